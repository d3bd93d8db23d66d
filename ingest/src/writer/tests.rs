use super::*;
use crate::csv_text::EVENTS_HEADER;
use crate::script::{Script, sensors};
use crate::wire_file::WireReader;
use std::collections::BTreeMap;
use std::future::ready;

/// Which calls to the disk fail.
#[derive(Clone, Copy, Debug)]
enum Failing {
    Never,
    /// The n-th call and as many more after it.
    From(u64, u64),
}

#[derive(Debug, Default)]
struct Image {
    calls: u64,
    is_gone: bool,
    files: BTreeMap<String, (Vec<u8>, usize)>,
}

/// A disk in memory. A failing append leaves half of its bytes, a failing sync leaves zeros where the
/// unsynced bytes were: what a full disk and a lost page do.
#[derive(Clone)]
struct MemoryDisk {
    image: Arc<Mutex<Image>>,
    /// Of the folder beside it.
    next: Arc<Mutex<Image>>,
    failing: Failing,
    /// Of the folder beside it.
    failing_beside: Failing,
}

struct MemoryFile {
    disk: MemoryDisk,
    name: String,
}

impl MemoryDisk {
    fn new(failing: Failing) -> Self {
        Self { image: Arc::default(), next: Arc::default(), failing, failing_beside: failing }
    }

    fn file<T>(
        &self,
        name: &str,
        counts: bool,
        work: impl FnOnce(&mut (Vec<u8>, usize), bool) -> T,
    ) -> io::Result<T> {
        let mut image = self.image.lock().unwrap();
        image.calls += u64::from(counts);
        let fails = match self.failing {
            Failing::Never => false,
            Failing::From(from, calls) => counts && (from..from + calls).contains(&image.calls),
        };
        let done = work(image.files.entry(name.to_owned()).or_default(), fails);
        if fails { Err(io::Error::new(io::ErrorKind::StorageFull, "no space left")) } else { Ok(done) }
    }

    fn bytes(&self, name: &str) -> Vec<u8> {
        self.image.lock().unwrap().files[name].0.clone()
    }

    fn calls(&self) -> u64 {
        self.image.lock().unwrap().calls
    }
}

impl Disk for MemoryDisk {
    fn folder(&self) -> &std::path::Path {
        std::path::Path::new("in-memory")
    }
    fn is_there(&self) -> bool {
        !self.image.lock().unwrap().is_gone
    }
    fn beside(&mut self) -> io::Result<Box<dyn Disk>> {
        let (image, failing) = (Arc::clone(&self.next), self.failing_beside);
        Ok(Box::new(Self { image, ..Self::new(failing) }))
    }
    fn replace(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        self.file(name, false, |(content, _), _| *content = bytes.to_vec())
    }
    fn sync_names(&mut self) -> io::Result<()> {
        Ok(())
    }
    fn discard(&mut self) {
        self.image.lock().unwrap().files.clear();
    }
    fn create(&mut self, name: &str) -> io::Result<Box<dyn DiskFile>> {
        self.file(name, false, |_, _| ())?;
        Ok(Box::new(MemoryFile { disk: self.clone(), name: name.to_owned() }))
    }
}

impl DiskFile for MemoryFile {
    fn append<'a>(&'a mut self, bytes: &'a [u8]) -> Call<'a> {
        Box::pin(ready(self.disk.file(&self.name, true, |(content, _), fails| {
            content.extend_from_slice(&bytes[..if fails { bytes.len() / 2 } else { bytes.len() }]);
        })))
    }
    fn cut_to(&mut self, length: u64) -> Call<'_> {
        Box::pin(ready(self.disk.file(&self.name, true, |(content, _), fails| {
            if !fails {
                content.truncate(length as usize);
            }
        })))
    }
    fn read(&mut self, from: u64, at_most: usize) -> Call<'_, Vec<u8>> {
        Box::pin(ready(self.disk.file(&self.name, true, |(content, _), _| {
            content.iter().skip(from as usize).take(at_most).copied().collect()
        })))
    }
    fn sync(&mut self) -> Call<'_> {
        Box::pin(ready(self.disk.file(&self.name, true, |(content, synced), fails| {
            if fails {
                content[*synced..].fill(0);
            } else {
                *synced = content.len();
            }
        })))
    }
}

const PACE: Pace = Pace {
    gather: Duration::ZERO,
    sync: Duration::ZERO,
    retry: Duration::from_millis(1),
    give_up: Duration::from_millis(20),
};

/// As the writer's own thread does it.
fn on_a_thread<T>(work: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .unwrap()
        .block_on(work)
}

fn records() -> Vec<Record> {
    let mut script = Script::begun(9_000_000, 0);
    script.send_rows(20);
    let _lost = script.rows();
    script.send_rows(5);
    script.ended()
}

fn tables() -> Tables {
    Tables::new(&["plow".to_owned()], &sensors(), false)
}

fn writer(disk: &MemoryDisk) -> Writer {
    let run = concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs/runs/balanced/run.toml");
    let description = crate::run_toml::read_run_toml(run.as_ref()).unwrap();
    Writer::create(Box::new(disk.clone()), Described { description, files: Vec::new() }, tables(), PACE)
        .unwrap()
}

/// Keeps the records in batches of three, as a slow box would bring them.
fn written_to(disk: &MemoryDisk) -> Option<String> {
    let mut writer = writer(disk);
    let queue = Queue::new(QUEUE_BYTES_MAX);
    queue.close();
    let records: Vec<_> = records().into_iter().map(|record| (0, record)).collect();
    let unwritten = records.chunks(3).find_map(|batch| on_a_thread(writer.write(batch, true, &queue)).err());
    unwritten.map(|error| error.to_string())
}

/// What the files must be, by the wire that is there.
fn of_wire(wire: &[u8]) -> (String, String, usize) {
    let mut reader = WireReader::new(wire);
    let mut tables = tables();
    let (mut rows, mut events) = (String::new(), EVENTS_HEADER.to_owned());
    let mut count = 0;
    for record in reader.by_ref() {
        tables.take(0, &record, &mut rows, &mut events);
        count += 1;
    }
    assert_eq!(reader.fault(), None);
    (rows, events, count)
}

#[test]
fn a_disk_that_fails_at_any_call_costs_nothing_once_it_is_well_again() {
    let whole = MemoryDisk::new(Failing::Never);
    assert_eq!(written_to(&whole), None);
    let calls = whole.calls();
    assert!(calls > 50, "{calls} calls");
    for failing_calls in [1, 2, 7] {
        for first in 1..=calls {
            let disk = MemoryDisk::new(Failing::From(first, failing_calls));
            assert_eq!(written_to(&disk), None, "failing from call {first}");
            for name in ["plow.wire", "plow.csv", "events.csv"] {
                assert_eq!(disk.bytes(name), whole.bytes(name), "{name}, failing from call {first}");
            }
        }
    }
    let (rows, events, count) = of_wire(&whole.bytes("plow.wire"));
    assert_eq!(count, records().len());
    assert_eq!(whole.bytes("plow.csv"), rows.as_bytes());
    assert_eq!(whole.bytes("events.csv"), events.as_bytes());
    assert_eq!(rows.lines().count(), 1 + 25 * 8);
    assert!(events.contains(",gap,rows=8; lasted_s=0.008000\n"), "{events}");
}

/// What a power cut leaves: of each file what was synced. The wire holds at least what the rows are of.
#[test]
fn a_disk_that_fails_for_ever_leaves_whole_rows_and_an_error() {
    let calls = {
        let whole = MemoryDisk::new(Failing::Never);
        written_to(&whole);
        whole.calls()
    };
    for first in (1..=calls).step_by(5) {
        let disk = MemoryDisk::new(Failing::From(first, u64::MAX / 2));
        let unwritten = written_to(&disk);
        assert!(unwritten.is_some_and(|why| why.contains("no space left")));
        let image = disk.image.lock().unwrap();
        let synced = |name: &str| {
            let (content, synced) = &image.files[name];
            content[..*synced].to_vec()
        };
        let wire = synced("plow.wire");
        if wire.is_empty() {
            continue;
        }
        let (rows, events, _) = of_wire(&wire);
        assert!(rows.as_bytes().starts_with(&synced("plow.csv")), "failing from call {first}");
        assert!(events.as_bytes().starts_with(&synced("events.csv")), "failing from call {first}");
    }
}

#[test]
fn a_stalled_disk_loses_nothing_that_fits_and_counts_what_does_not() {
    let disk = MemoryDisk::new(Failing::Never);
    let writer = writer(&disk);
    // Room for about the half: what is dropped is dropped before the wire.
    let queue = Queue::new(3_000);
    for record in records() {
        queue.push(0, record);
    }
    queue.close();
    let kept = on_a_thread(writer.run(&queue));
    assert_eq!(kept.unwritten, None);
    let counters = kept.assemblers[0].counters();
    assert!(counters.bytes_not_kept > 0 && counters.rows > 0);
    let (rows, events, _) = of_wire(&disk.bytes("plow.wire"));
    assert_eq!(disk.bytes("plow.csv"), rows.as_bytes());
    assert!(events.contains("not-kept,bytes="), "{events}");
}

/// Gone at any moment, with a disk that is well and with one that fails for a while at any call of the copying: the
/// folder beside it has all that the first one would have had.
#[test]
fn a_folder_that_is_gone_is_made_again_with_all_that_was_in_it() {
    let whole = MemoryDisk::new(Failing::Never);
    assert_eq!(written_to(&whole), None);
    let batches: Vec<Vec<_>> =
        records().chunks(3).map(|batch| batch.iter().map(|record| (0, record.clone())).collect()).collect();
    for gone_before in 0..batches.len() {
        for failing in [Failing::Never, Failing::From(4, 3)] {
            let disk = MemoryDisk::new(failing);
            let mut writer = writer(&disk);
            let queue = Queue::new(QUEUE_BYTES_MAX);
            for (number, batch) in batches.iter().enumerate() {
                if number == gone_before {
                    disk.image.lock().unwrap().is_gone = true;
                }
                on_a_thread(writer.write(batch, true, &queue)).unwrap();
            }
            let beside = MemoryDisk { image: Arc::clone(&disk.next), ..disk.clone() };
            for name in ["plow.wire", "plow.csv", "events.csv"] {
                assert_eq!(beside.bytes(name), whole.bytes(name), "{name}, gone before {gone_before}");
            }
            assert_eq!(beside.bytes("run.toml"), disk.bytes("run.toml"));
            let news = std::mem::take(&mut writer.state.lock().unwrap().news);
            assert!(matches!(news[..], [FolderNews::Gone(_), FolderNews::GoesOn(_)]), "{news:?}");
        }
    }
}

/// Moved away and put back before it could be made again, as by somebody who sees what they did.
#[test]
fn a_folder_that_is_put_back_goes_on_where_it_was() {
    let whole = MemoryDisk::new(Failing::Never);
    assert_eq!(written_to(&whole), None);
    let mut disk = MemoryDisk::new(Failing::Never);
    disk.failing_beside = Failing::From(1, u64::MAX / 2);
    let mut writer = writer(&disk);
    let queue = Queue::new(QUEUE_BYTES_MAX);
    let records: Vec<_> = records().into_iter().map(|record| (0, record)).collect();
    let image = Arc::clone(&disk.image);
    on_a_thread(async {
        writer.write(&records[..9], true, &queue).await.unwrap();
        image.lock().unwrap().is_gone = true;
        let put_back = async {
            tokio::time::sleep(PACE.retry * 7).await;
            image.lock().unwrap().is_gone = false;
        };
        let (written, ()) = tokio::join!(writer.write(&records[9..], true, &queue), put_back);
        written.unwrap();
    });
    for name in ["plow.wire", "plow.csv", "events.csv"] {
        assert_eq!(disk.bytes(name), whole.bytes(name), "{name}");
    }
    let news = std::mem::take(&mut writer.state.lock().unwrap().news);
    let folder = Path::new("in-memory").to_owned();
    assert_eq!(news, [FolderNews::Gone(folder.clone()), FolderNews::GoesOn(folder)]);
    assert_eq!(writer.state.lock().unwrap().trouble, None);
    assert!(disk.next.lock().unwrap().files.is_empty(), "a folder beside it is left half made");
}

/// Somebody cut a file short before its folder went: what is missing of it cannot be copied, and that is said.
#[test]
fn a_file_that_is_shorter_than_what_was_written_is_not_taken_for_a_copy() {
    let disk = MemoryDisk::new(Failing::Never);
    let mut writer = writer(&disk);
    let queue = Queue::new(QUEUE_BYTES_MAX);
    let records: Vec<_> = records().into_iter().map(|record| (0, record)).collect();
    on_a_thread(writer.write(&records[..12], true, &queue)).unwrap();
    {
        let mut image = disk.image.lock().unwrap();
        image.files.get_mut("plow.csv").unwrap().0.truncate(3);
        image.is_gone = true;
    }
    queue.close();
    let error = on_a_thread(writer.write(&records[12..], true, &queue)).unwrap_err().to_string();
    assert!(error.contains("the run folder is gone and cannot be written again: it is shorter"), "{error}");
    assert!(disk.next.lock().unwrap().files.is_empty());
}

/// The disk of the file system: exclusive, whole, told from another of the same name.
#[test]
fn a_real_folder_is_told_from_one_that_took_its_place() {
    let parent = tempfile::tempdir().unwrap();
    let path = parent.path().join("run");
    std::fs::create_dir(&path).unwrap();
    let mut disk = FolderDisk::new(path.clone()).unwrap();
    let mut file = disk.create("plow.csv").unwrap();
    assert!(disk.create("plow.csv").is_err(), "a file that is there is never taken");
    on_a_thread(async {
        file.append(b"t_s,a\n0,1\n1,").await.unwrap();
        file.cut_to(10).await.unwrap();
        file.append(b"1,2\n").await.unwrap();
        file.sync().await.unwrap();
        assert_eq!(file.read(6, 100).await.unwrap(), b"0,1\n1,2\n");
        assert_eq!(file.read(6, 3).await.unwrap(), b"0,1");
        assert_eq!(file.read(100, 3).await.unwrap(), b"");
    });
    disk.sync_names().unwrap();
    assert!(disk.is_there());
    // Another file of that name, and another folder.
    std::fs::remove_file(path.join("plow.csv")).unwrap();
    std::fs::write(path.join("plow.csv"), b"t_s,a\n0,1\n1,2\n").unwrap();
    assert!(!disk.is_there());
    std::fs::rename(&path, parent.path().join("elsewhere")).unwrap();
    assert!(!disk.is_there());
    let beside = disk.beside().unwrap();
    assert_eq!(beside.folder(), parent.path().join("run_2"));
    let mut third = FolderDisk::new(path.clone()).err().map(|_| disk.beside().unwrap()).unwrap();
    assert_eq!(third.folder(), parent.path().join("run_3"), "one that is there is never taken");
    third.discard();
    assert!(!parent.path().join("run_3").exists() && parent.path().join("run_2").exists());
    // A file where a folder should be.
    std::fs::write(&path, b"x").unwrap();
    assert!(!disk.is_there());
}
