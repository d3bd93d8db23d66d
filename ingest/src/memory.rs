//! How much memory there still is, so that work that needs more is refused in a sentence: the system would end the
//! program without one.

use std::path::Path;

/// What the program itself takes beside the data, its threads among it, in bytes.
const BESIDE_BYTES: u64 = 200_000_000;
/// Address space that the C library sets aside for the heap of a thread, used or not (glibc on 64 bits).
const HEAP_OF_A_THREAD_BYTES: u64 = 64 << 20;
/// Such heaps for each core: there are two pools of workers, each as wide as the computer.
const HEAPS_OF_A_CORE: u64 = 2;

/// Less memory than some work needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "this takes about {needed_mb} MB of memory and {free_mb} MB are free: close other programs, use a computer with \
     more memory, or record shorter passes"
)]
pub struct TooLittleMemory {
    /// About what it needs, in MB.
    pub needed_mb: u64,
    /// What is free, in MB.
    pub free_mb: u64,
}

/// Refuses work on so many bytes of data where they are not free. A system that does not say what is free, is asked
/// for it all the same.
///
/// # Errors
/// [`TooLittleMemory`] says how much is needed.
pub fn check_room(data_bytes: u64) -> Result<(), TooLittleMemory> {
    room_in(free_bytes(), data_bytes)
}

fn room_in(free_bytes: Option<u64>, data_bytes: u64) -> Result<(), TooLittleMemory> {
    let needed = data_bytes.saturating_add(BESIDE_BYTES);
    match free_bytes {
        Some(free) if free < needed => {
            Err(TooLittleMemory { needed_mb: needed.div_ceil(1_000_000), free_mb: free / 1_000_000 })
        }
        _ => Ok(()),
    }
}

/// What the system still has and this program may still take, in bytes; `None` where the system does not say, which
/// is any but Linux.
#[must_use]
pub fn free_bytes() -> Option<u64> {
    let read = |path: &Path| std::fs::read_to_string(path).ok();
    let proc = |name: &str| read(&Path::new("/proc").join(name));
    let of_system = proc("meminfo").and_then(|text| kilobytes(&text, "MemAvailable:"));
    let of_limit = proc("self/limits").zip(proc("self/status")).and_then(|(limits, status)| {
        let limit = address_space(&limits)?;
        let cores = std::thread::available_parallelism().map_or(1, |cores| cores.get() as u64);
        let heaps = cores * HEAPS_OF_A_CORE * HEAP_OF_A_THREAD_BYTES;
        Some(limit.saturating_sub(kilobytes(&status, "VmSize:")?).saturating_sub(heaps))
    });
    let of_group = proc("self/cgroup").and_then(|text| {
        let own = text.lines().find_map(|line| line.strip_prefix("0::/"))?;
        let folder = Path::new("/sys/fs/cgroup").join(own);
        let limit: u64 = read(&folder.join("memory.max"))?.trim().parse().ok()?;
        let stat = read(&folder.join("memory.stat"))?;
        let used = stat.lines().find_map(|line| line.strip_prefix("anon "))?.trim().parse().ok()?;
        Some(limit.saturating_sub(used))
    });
    least_known([of_system, of_limit, of_group])
}

fn least_known(bounds: [Option<u64>; 3]) -> Option<u64> {
    bounds.into_iter().flatten().min()
}

/// `MemAvailable:   12345 kB`, in bytes.
fn kilobytes(text: &str, key: &str) -> Option<u64> {
    let rest = text.lines().find_map(|line| line.strip_prefix(key))?;
    rest.split_whitespace().next()?.parse::<u64>().ok()?.checked_mul(1024)
}

/// The soft limit of the address space; `None` if there is none.
fn address_space(limits: &str) -> Option<u64> {
    let rest = limits.lines().find_map(|line| line.strip_prefix("Max address space"))?;
    rest.split_whitespace().next()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Neither the program itself is forgotten, nor the tightest of the bounds.
    #[test]
    fn the_program_needs_room_beside_its_data_within_the_tightest_bound() {
        assert_eq!(room_in(Some(BESIDE_BYTES), 0), Ok(()));
        let refused = TooLittleMemory { needed_mb: 200, free_mb: 199 };
        assert_eq!(room_in(Some(BESIDE_BYTES - 1), 0), Err(refused));
        let refused = TooLittleMemory { needed_mb: 1201, free_mb: 1200 };
        assert_eq!(room_in(Some(1_200_000_000), 1_000_000_001), Err(refused));
        assert!(refused.to_string().starts_with("this takes about 1201 MB of memory and 1200 MB are free: "));
        assert_eq!(room_in(None, u64::MAX), Ok(()), "a system that does not say is asked for it");
        assert_eq!(least_known([Some(7), None, Some(3)]), Some(3));
        assert_eq!(least_known([None; 3]), None);
    }

    #[test]
    fn what_the_system_says_is_read() {
        assert_eq!(kilobytes("MemFree:  7 kB\nMemAvailable:   12 kB\n", "MemAvailable:"), Some(12 * 1024));
        assert_eq!(kilobytes("MemFree:  7 kB\n", "MemAvailable:"), None);
        let line = "Max address space         2000000000           unlimited            bytes     \n";
        assert_eq!(address_space(line), Some(2_000_000_000));
        assert_eq!(address_space(&line.replace("2000000000", "unlimited")), None);
        assert_eq!(free_bytes().is_some(), cfg!(target_os = "linux"));
        assert_eq!(check_room(0), Ok(()));
        assert_eq!(check_room(u64::MAX).is_err(), cfg!(target_os = "linux"));
    }
}
