//! The C header and the examples on it, for the processors that a box is built with: they compile without a warning,
//! and ask for nothing that such a processor pays for dearly.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::Command;

use hitchwright_tests::emulator::{build_firmware, c_folder, run_tool};
use hitchwright_tests::synthetic::counts_of;
use hitchwright_tests::{Failure, Outcome};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tempfile::TempDir;

const PACKAGES: &str = "Debian: apt install gcc-avr gcc-arm-none-eabi";
const STRICT: [&str; 6] = ["-std=c99", "-Wall", "-Wextra", "-Werror", "-Os", "-ffreestanding"];
/// Compiler, list of symbols, and options of each processor.
const PROCESSORS: [(&str, &str, &[&str]); 3] = [
    ("avr-gcc", "avr-nm", &["-mmcu=atmega328p"]),
    ("arm-none-eabi-gcc", "arm-none-eabi-nm", &["-mcpu=cortex-m0", "-mthumb"]),
    ("arm-none-eabi-gcc", "arm-none-eabi-nm", &["-mcpu=cortex-m4", "-mthumb"]),
];
/// What the compilers' own library may be asked for: 8, 16 and 32 bits, switch tables, copying, and the setting up of
/// memory. 64-bit numbers (`__muldi3`, `__aeabi_uldivmod`, `__adddi3_s8`) and floating point (`__mulsf3`,
/// `__aeabi_fadd`) are not among it.
const LIBRARY: &str = "__mulsi3 __muluhisi3 __umulhisi3 __udivmodqi4 __udivmodhi4 __divmodhi4 __udivmodsi4 __divmodsi4 \
    __aeabi_uidiv __aeabi_uidivmod __aeabi_idiv __aeabi_idivmod __tablejump2__ __gnu_thumb1_case_uqi \
    __gnu_thumb1_case_sqi __gnu_thumb1_case_uhi __do_copy_data __do_clear_bss memcpy memset \
    __prologue_saves__ __epilogue_restores__";

fn compile(source: &Path, out: &Path, (compiler, _, options): &(&str, &str, &[&str])) -> Outcome<()> {
    let mut command = Command::new(compiler);
    command.args(STRICT).args(*options).arg("-c").arg(source).arg("-o").arg(out);
    run_tool(&mut command, PACKAGES).map(|_| ())
}

/// What an object needs from elsewhere, but for the board's functions and the library of small numbers.
fn dear(object: &Path, lister: &str) -> Outcome<Vec<String>> {
    let listed =
        run_tool(Command::new(lister).args(["--undefined-only", "--format=posix"]).arg(object), PACKAGES)?;
    let names = listed.lines().filter_map(|line| line.split_whitespace().next()).map(str::to_owned);
    Ok(names
        .filter(|name| !name.starts_with("board_") && !LIBRARY.split(' ').any(|known| known == name))
        .collect())
}

/// The C files in `firmware-protocol/c/` itself.
fn examples() -> Outcome<Vec<PathBuf>> {
    let entries = fs::read_dir(c_folder()).map_err(|error| Failure(error.to_string()))?;
    let files = entries.filter_map(|entry| Some(entry.ok()?.path()));
    Ok(files.filter(|path| path.extension().is_some_and(|ext| ext == "c")).collect())
}

#[test]
#[ignore = "needs two cross compilers: apt install gcc-avr gcc-arm-none-eabi"]
fn the_examples_ask_small_processors_for_small_numbers_only() -> Outcome<()> {
    let folder = TempDir::new().map_err(|error| Failure(error.to_string()))?;
    let object = folder.path().join("example.o");
    let examples = examples()?;
    for name in ["example_box.c", "example_text_box.c"] {
        assert!(examples.iter().any(|path| path.ends_with(name)), "{name} is not in {examples:?}");
    }
    for processor in &PROCESSORS {
        for example in &examples {
            compile(example, &object, processor)?;
            assert_eq!(dear(&object, processor.1)?, [""; 0], "{} with {processor:?}", example.display());
        }
    }
    Ok(())
}

/// The check above would see what it looks for.
#[test]
#[ignore = "needs two cross compilers: apt install gcc-avr gcc-arm-none-eabi"]
fn large_numbers_and_floating_point_would_be_seen() -> Outcome<()> {
    let folder = TempDir::new().map_err(|error| Failure(error.to_string()))?;
    let (source, object) = (folder.path().join("dear.c"), folder.path().join("dear.o"));
    for code in
        ["uint64_t f(uint64_t a, uint64_t b) { return a / b; }", "float f(float a) { return a * 1.5f; }"]
    {
        fs::write(&source, format!("#include <stdint.h>\n{code}\n")).map_err(|e| Failure(e.to_string()))?;
        for processor in &PROCESSORS {
            compile(&source, &object, processor)?;
            assert!(!dear(&object, processor.1)?.is_empty(), "{code} with {processor:?}");
        }
    }
    Ok(())
}

/// Nothing but the firmware's own files is in it: no library, so no helper for what the processor cannot do itself.
#[test]
#[ignore = "needs the cross compiler: apt install gcc-arm-none-eabi"]
fn the_firmware_is_complete_without_any_library_on_a_board_too() -> Outcome<()> {
    let folder = TempDir::new().map_err(|error| Failure(error.to_string()))?;
    for (name, options) in [("emulated", &[][..]), ("board", &["-UEMULATED"]), ("slow", &["-DBAUD=9600"])] {
        let out = folder.path().join(name);
        build_firmware(&out, options)?;
        let symbols = run_tool(Command::new("arm-none-eabi-nm").arg(&out), PACKAGES)?;
        assert!(symbols.contains(" timer_interrupt") && !symbols.contains("__aeabi"), "{symbols}");
    }
    Ok(())
}

/// What the sampler, compiled for this computer, made of ticks: number and clock of each row that it handed on, and how
/// many it dropped. Each row has the counts of its number.
fn sampled(folder: &TempDir, orders: &str) -> Outcome<(BTreeMap<u32, u32>, u32)> {
    let failure = |error: std::io::Error| Failure(error.to_string());
    let (program, input) = (folder.path().join("ticks"), folder.path().join("orders"));
    if !program.exists() {
        let compiler = std::env::var("CC").ok().filter(|cc| !cc.trim().is_empty());
        let mut command = Command::new(compiler.as_deref().unwrap_or("cc"));
        command.args(["-std=c99", "-Wall", "-Wextra", "-Werror", "-O1"]);
        command.arg(c_folder().join("firmware/test/ticks.c")).arg("-o").arg(&program);
        run_tool(&mut command, "Debian: apt install gcc libc6-dev")?;
    }
    fs::write(&input, orders).map_err(failure)?;
    let said = run_tool(Command::new(&program).stdin(File::open(&input).map_err(failure)?), "")?;
    let mut rows = BTreeMap::new();
    for line in said.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        let numbers: Vec<i64> = words.iter().filter_map(|word| word.parse().ok()).collect();
        match (&words[..], &numbers[..]) {
            (["d", _], [dropped]) => return Ok((rows, u32::try_from(*dropped).unwrap_or(u32::MAX))),
            (_, [number, clock_us, 5000, counts @ ..]) => {
                let number = u32::try_from(*number).unwrap_or(u32::MAX);
                assert_eq!(counts, counts_of(number).map(i64::from), "{line}");
                assert!(rows.last_key_value().is_none_or(|(last, _)| *last < number), "{line}");
                rows.insert(number, u32::try_from(*clock_us).unwrap_or(u32::MAX));
            }
            _ => return Err(Failure(format!("{line:?}"))),
        }
    }
    Err(Failure(format!("the program did not come to its end:\n{said}")))
}

/// Ticks that come late or not at all, across the wrap of the clock: a row is there if, and only if, there was a tick in
/// its time; its clock is when it was due, and every other row is counted.
#[test]
fn a_row_whose_time_went_by_without_a_tick_is_counted_and_not_made_up() -> Outcome<()> {
    const START_US: u64 = 0xFFFF_0000;
    let folder = TempDir::new().map_err(|error| Failure(error.to_string()))?;
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    for late_one_in in [u32::MAX, 30, 5] {
        let mut ticks: Vec<u64> = vec![START_US];
        let mut grid_us = START_US;
        while grid_us < START_US + 400_000 {
            let missed = if rng.random_range(0..late_one_in) == 0 { rng.random_range(1..20) } else { 0 };
            grid_us += 1000 * (1 + missed);
            ticks.push(grid_us + rng.random_range(0..40));
        }
        let mut orders = String::from("g\n");
        for tick in &ticks {
            let _ = writeln!(orders, "t {}\nf 99", tick % (1 << 32));
        }
        let (rows, dropped) = sampled(&folder, &orders)?;
        let last = ticks.last().copied().unwrap_or(START_US);
        let due = (0..)
            .map(|row: u32| (row, START_US + u64::from(row) * 5000))
            .take_while(|(_, due)| *due <= last + 500);
        let expected: BTreeMap<u32, u32> = due
            .clone()
            .filter(|(_, due)| ticks.iter().any(|tick| (*due..*due + 5000).contains(&(tick + 500))))
            .map(|(row, due)| (row, due as u32))
            .collect();
        assert_eq!(rows, expected, "one tick of {late_one_in} late");
        assert_eq!(rows.len() + dropped as usize, due.count());
        assert_eq!(dropped > 0, late_one_in < u32::MAX, "{dropped} dropped");
    }
    Ok(())
}

#[test]
fn a_full_ring_drops_new_rows_and_keeps_the_old_ones() -> Outcome<()> {
    let folder = TempDir::new().map_err(|error| Failure(error.to_string()))?;
    let mut orders = String::from("g\n");
    let tick = |orders: &mut String, ms: std::ops::Range<u32>| {
        ms.for_each(|ms| writeln!(orders, "t {}", ms * 1000).unwrap_or(()));
    };
    // 100 rows, of which 64 find room; then room for ten, and 20 more rows.
    tick(&mut orders, 0..500);
    orders += "f 10\n";
    tick(&mut orders, 500..600);
    orders += "f 99\n";
    let (rows, dropped) = sampled(&folder, &orders)?;
    let expected: Vec<u32> = (0..64).chain(100..110).collect();
    assert_eq!((rows.into_keys().collect::<Vec<_>>(), dropped), (expected, 46));
    Ok(())
}
