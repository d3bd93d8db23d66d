//! Run folders made of the stored runs, and a server that hands them out.

use std::fs;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::sample;
use seat::live::LastPass;
use seat::runs::{Analyst, Limits, Runs, router};
use serde_json::Value;
use tempfile::TempDir;
use tokio::runtime::Runtime;

/// A folder of runs.
pub struct Folder(TempDir);

impl Folder {
    pub fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub fn path(&self) -> &Path {
        self.0.path()
    }

    /// A stored run as it would have been driven at this hour and minute, and a little otherwise: no two passes are
    /// alike.
    pub fn drive(&self, stored: &str, minute_of_day: u32) -> String {
        let from = sample("runs").join(stored);
        let toml = fs::read_to_string(from.join("run.toml")).unwrap();
        let setting =
            toml.lines().find_map(|line| line.strip_prefix("setting_name = ")).unwrap().trim_matches('"');
        let (hour, minute) = (minute_of_day / 60, minute_of_day % 60);
        let name = format!("2027-04-11T{hour:02}{minute:02}_{setting}");
        let run = self.path().join(&name);
        fs::create_dir(&run).unwrap();
        for file in ["events.csv", "plow.wire", "datapackage.json"] {
            fs::copy(from.join(file), run.join(file)).unwrap();
        }
        let changed = |line: &str| match line {
            _ if line.starts_with("id = ") => format!("id = \"{name}\"\n"),
            _ if line.starts_with("started = ") => {
                format!("started = \"2027-04-11T{hour:02}:{minute:02}:00+02:00[Europe/Paris]\"\n")
            }
            line => format!("{line}\n"),
        };
        fs::write(run.join("run.toml"), toml.lines().map(changed).collect::<String>()).unwrap();
        let table = fs::read_to_string(from.join("plow.csv")).unwrap();
        let more = f64::from(minute_of_day % 7);
        let row = |line: &str| {
            let cells: Option<Vec<f64>> = line.split(',').map(|cell| cell.parse().ok()).collect();
            match cells.as_deref() {
                Some([t_s, pull_n, tail_mm, depth_mm]) => format!(
                    "{t_s:.6},{:.2},{:.4},{:.3}\n",
                    pull_n + 15.0 * more,
                    tail_mm + 0.05 * more,
                    depth_mm * (1.0 + 0.004 * more)
                ),
                _ => format!("{line}\n"),
            }
        };
        fs::write(run.join("plow.csv"), table.lines().map(row).collect::<String>()).unwrap();
        name
    }

    /// Changes the description of a run.
    pub fn describe(&self, run: &str, change: impl Fn(&str) -> String) {
        let path = self.path().join(run).join("run.toml");
        let before = fs::read_to_string(&path).unwrap();
        let after = change(&before);
        assert_ne!(before, after, "nothing was changed");
        fs::write(&path, after).unwrap();
    }
}

/// A server of runs.
pub struct Served {
    pub runs: Runs,
    pub address: SocketAddr,
    pub passes: Receiver<LastPass>,
    _runtime: Runtime,
}

/// An answer.
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> String {
        String::from_utf8(self.body.clone()).unwrap()
    }

    #[track_caller]
    pub fn json(&self) -> Value {
        assert_eq!(self.status, 200, "{}", self.text());
        serde_json::from_slice(&self.body).unwrap()
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        let line = |line: &'_ str| line.to_ascii_lowercase().starts_with(&format!("{name}: "));
        self.head.lines().find(|one| line(one)).map(|line| line.split_at(name.len() + 2).1)
    }
}

/// With the real program, found as the recorder finds it: beside the running one, which it is in `target/PROFILE`.
pub fn analyst() -> Analyst {
    Analyst::at(Some(Program::Hitchwright.path().unwrap()), Limits::default())
}

/// With one of the children that stand beside this file.
pub fn child(script: &str, time: Duration) -> Analyst {
    let program = Path::new(env!("CARGO_MANIFEST_DIR")).join("runs/children").join(script);
    Analyst::at(Some(program), Limits { time, ..Limits::default() })
}

pub fn serve(out: &Path, analyst: Analyst) -> Served {
    let (tell, passes) = channel();
    let tell = std::sync::Mutex::new(tell);
    let tell = move |pass: LastPass| drop(tell.lock().unwrap().send(pass));
    let runs = Runs::new(PathBuf::from(out), analyst, tell).unwrap();
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    let listener = runtime.block_on(tokio::net::TcpListener::bind("127.0.0.1:0")).unwrap();
    let address = listener.local_addr().unwrap();
    let routes = router(runs.clone());
    runtime.spawn(async move { axum::serve(listener, routes).await });
    Served { runs, address, passes, _runtime: runtime }
}

impl Served {
    pub fn get(&self, path: &str) -> Answer {
        get(self.address, path)
    }
}

/// Asks for a path as it is written, without tidying it up.
pub fn get(address: SocketAddr, path: &str) -> Answer {
    try_get(address, path).unwrap()
}

/// The same where the server may end before it answers.
pub fn try_get(address: SocketAddr, path: &str) -> Option<Answer> {
    let mut stream = TcpStream::connect(address).ok()?;
    stream.set_read_timeout(Some(Duration::from_secs(300))).ok()?;
    write!(stream, "GET {path} HTTP/1.1\r\nHost: seat\r\nConnection: close\r\n\r\n").ok()?;
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).ok()?;
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n")?;
    let head = String::from_utf8(bytes[..end].to_vec()).unwrap();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    assert!(!head.to_ascii_lowercase().contains("transfer-encoding"), "{head}");
    Some(Answer { status, head, body: bytes.split_off(end + 4) })
}
