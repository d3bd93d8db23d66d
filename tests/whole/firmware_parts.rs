//! The C header and the examples on it, for the processors that a box is built with: they compile without a warning,
//! and ask for nothing that such a processor pays for dearly.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use hitchwright_tests::emulator::{build_firmware, c_folder, run_tool};
use hitchwright_tests::{Failure, Outcome};
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
const LIBRARY: [&str; 22] = [
    "__mulsi3",
    "__muluhisi3",
    "__umulhisi3",
    "__udivmodqi4",
    "__udivmodhi4",
    "__divmodhi4",
    "__udivmodsi4",
    "__divmodsi4",
    "__aeabi_uidiv",
    "__aeabi_uidivmod",
    "__aeabi_idiv",
    "__aeabi_idivmod",
    "__tablejump2__",
    "__gnu_thumb1_case_uqi",
    "__gnu_thumb1_case_sqi",
    "__gnu_thumb1_case_uhi",
    "__do_copy_data",
    "__do_clear_bss",
    "memcpy",
    "memset",
    "__prologue_saves__",
    "__epilogue_restores__",
];

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
    Ok(names.filter(|name| !name.starts_with("board_") && !LIBRARY.contains(&&**name)).collect())
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
    assert!(examples.iter().any(|path| path.ends_with("example_box.c")), "{examples:?}");
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
