//! The C compiler, and the program that it makes of the header.

use std::env;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::LazyLock;
use std::thread;

pub const WARNINGS: [&str; 7] =
    ["-std=c99", "-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Wshadow", "-Werror"];
pub const SANITIZED: &[&str] =
    &["-O1", "-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all", "-fno-omit-frame-pointer"];
pub const SMALL: &[&str] = &["-Os"];
/// The other form of the CRC, and the other choice where C leaves one to the compiler.
pub const TABLE_FREE: &[&str] = &["-Os", "-DHW_CRC_NO_TABLE", "-funsigned-char", "-fshort-enums"];

/// The program in each of its forms.
pub static DRIVERS: LazyLock<Vec<PathBuf>> = LazyLock::new(|| {
    [("sanitized", SANITIZED), ("small", SMALL), ("table-free", TABLE_FREE)]
        .iter()
        .map(|(name, flags)| {
            let program = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("box-{name}"));
            compile(&c_compiler(), &[&WARNINGS, *flags].concat(), "test/driver.c", &program)
                .unwrap_or_else(|error| panic!("{error}"));
            program
        })
        .collect()
});

pub fn c_compiler() -> String {
    env::var("CC").ok().filter(|cc| !cc.trim().is_empty()).unwrap_or_else(|| "cc".into())
}

/// Compiles a file of `c/`; the error is a sentence for the person who runs the tests.
pub fn compile(compiler: &str, flags: &[&str], source: &str, out: &Path) -> Result<(), String> {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("c").join(source);
    let mut words = compiler.split_whitespace();
    let mut command = Command::new(words.next().unwrap_or_default());
    command.args(words).args(flags).arg(&source).arg("-o").arg(out);
    let output = command.output().map_err(|error| match error.kind() {
        ErrorKind::NotFound => format!(
            "no C compiler `{compiler}`, and without one nobody knows whether the C header is right: install one \
             (Debian: apt install gcc libc6-dev), or name yours in the environment variable CC"
        ),
        _ => format!("the C compiler `{compiler}` does not run: {error}"),
    })?;
    if output.status.success() {
        return Ok(());
    }
    Err(format!("{command:?} failed:\n{}", String::from_utf8_lossy(&output.stderr)))
}

/// What the program says to `commands`: the letter and the bytes of each answer.
pub fn answers(program: &Path, commands: &[u8]) -> Vec<(u8, Vec<u8>)> {
    let mut child = Command::new(program)
        // Nothing here takes memory from a heap, and the search for leaks does not run under a debugger.
        .env("ASAN_OPTIONS", "detect_leaks=0")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let commands = commands.to_vec();
    // From a thread, so that neither end waits for the other when both pipes are full.
    let writer = thread::spawn(move || stdin.write_all(&commands));
    let output = child.wait_with_output().unwrap();
    let sent = writer.join().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && said.is_empty(), "{}: {}\n{said}", program.display(), output.status);
    sent.unwrap();
    let mut all = Vec::new();
    let mut rest = output.stdout.as_slice();
    while let Some((&[letter, length], after)) = rest.split_first_chunk::<2>() {
        let (bytes, after) = after.split_at(usize::from(length));
        all.push((letter, bytes.to_vec()));
        rest = after;
    }
    assert_eq!(rest, b"");
    all
}

/// The frames of an answer, without what the program says besides about readings, which is checked here.
pub fn frames_in(answers: &[(u8, Vec<u8>)]) -> Vec<Vec<u8>> {
    for (_, said) in answers.iter().filter(|(letter, _)| *letter == b'r') {
        assert_eq!(said[1..], [0; 4], "an ended frame takes nothing more and is sent once");
    }
    answers.iter().filter(|(letter, _)| *letter != b'r').map(|(_, bytes)| bytes.clone()).collect()
}
