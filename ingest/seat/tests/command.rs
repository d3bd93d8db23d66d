//! The `hitchwright-recorder` program: what it says when it cannot record, and its exit status.
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::path::Path;
use std::process::{Command, Output};

fn recorder(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hitchwright-recorder")).args(arguments).output().unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// The last line on stderr, after the cautions.
/// What is said last; the line of a file that it is about may stand under it, indented.
fn sentence(output: &Output) -> String {
    let said = stderr(output);
    said.lines().rfind(|line| !line.starts_with(' ')).unwrap_or_default().to_owned()
}

fn plow_file(folder: &Path, change: impl FnOnce(String) -> String) -> String {
    let path = folder.join("plow.toml");
    std::fs::write(&path, change(include_str!("../../tests/recording/plow.toml").to_owned())).unwrap();
    path.to_string_lossy().into_owned()
}

#[test]
fn help_says_what_each_option_is_for() {
    let output = recorder(&["--help"]);
    assert!(output.status.success());
    let help = String::from_utf8_lossy(&output.stdout).into_owned();
    let usage: Vec<&str> = help.lines().skip_while(|line| !line.starts_with("Usage:")).take(3).collect();
    assert!(usage[0].contains("--port <PORT>") && usage[1].ends_with(" --config <FILE>"), "{usage:?}");
    for option in ["--port", "--setting", "--into", "--duration", "--stop-when-gone", "--note"] {
        assert!(help.contains(option), "{option} is not in\n{help}");
    }
}

#[test]
fn wrong_use_is_status_2_and_failed_work_status_1() {
    assert_eq!(recorder(&["--setting", "low"]).status.code(), Some(2));
    assert_eq!(recorder(&["--port", "p", "--setting", "low", "--duration", "90"]).status.code(), Some(2));
    let folder = tempfile::tempdir().unwrap();
    let plow = plow_file(folder.path(), |text| text);
    let run = folder.path().join("run").to_string_lossy().into_owned();
    let port = folder.path().join("no-port").to_string_lossy().into_owned();
    let output = recorder(&["--port", &port, "--plow", &plow, "--setting", "low", "--into", &run]);
    assert_eq!(output.status.code(), Some(1));
    let said = sentence(&output);
    assert!(
        said.starts_with("hitchwright-recorder: there is no port ") && said.contains("no-port"),
        "{said}"
    );
    assert!(!Path::new(&run).exists());
}

#[test]
fn the_cautions_come_first() {
    let folder = tempfile::tempdir().unwrap();
    let plow = plow_file(folder.path(), |text| text);
    let said = stderr(&recorder(&["--port", "no-port", "--plow", &plow, "--setting", "low"]));
    assert!(said.starts_with(ingest::safety::CAUTIONS[0]), "{said}");
}

#[test]
fn what_is_not_a_port_is_said_so() {
    let folder = tempfile::tempdir().unwrap();
    let plow = plow_file(folder.path(), |text| text);
    let said = sentence(&recorder(&["--port", &plow, "--plow", &plow, "--setting", "low"]));
    assert!(said.contains("is not a serial port"), "{said}");
}

#[test]
fn a_bad_plow_description_is_named_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let record = |plow: &str, setting: &str| {
        let output = recorder(&["--port", "no-port", "--plow", plow, "--setting", setting]);
        assert_eq!(output.status.code(), Some(1));
        sentence(&output)
    };
    let said = record(&plow_file(folder.path(), |text| text.replace("\"0.3 m\"", "0.3")), "low");
    assert!(said.contains("plow.toml, line ") && said.contains("has no unit"), "{said}");
    let said = record(&plow_file(folder.path(), |text| text), "lwo");
    assert!(said.contains("no setting \"lwo\"; it has \"low\""), "{said}");
    let missing = folder.path().join("none.toml").to_string_lossy().into_owned();
    assert!(record(&missing, "low").contains("none.toml"));
}

/// A port named from its own folder (`cd /dev; … --port ttyUSB0`) was once locked under two names, and so
/// called busy by the recorder that had just locked it.
#[test]
fn a_port_named_without_its_folder_is_not_in_its_own_way() {
    let folder = tempfile::tempdir().unwrap();
    plow_file(folder.path(), |text| text);
    let output = Command::new(env!("CARGO_BIN_EXE_hitchwright-recorder"))
        .args(["--port", "plow.toml", "--plow", "plow.toml", "--setting", "low"])
        .current_dir(folder.path().canonicalize().unwrap())
        .output()
        .unwrap();
    let said = sentence(&output);
    assert!(said.contains("is not a serial port"), "{said}");
}

/// Whoever comes to the tractor later gets the links where they are kept; asking for them makes and changes nothing.
#[test]
fn the_links_to_the_page_of_the_unattended_recorder_are_had_again() {
    let folder = tempfile::tempdir().unwrap();
    let (config, tokens) = (folder.path().join("recorder.toml"), folder.path().join("tokens"));
    let asked = || recorder(&["links", "--config", &config.to_string_lossy()]);
    let refused = |part: &str| {
        let output = asked();
        let said = stderr(&output);
        assert!(output.status.code() != Some(0) && output.stdout.is_empty() && said.contains(part), "{said}");
        assert_eq!(said.lines().count(), 1, "{said}");
    };
    refused("recorder.toml");
    let describe = |live: &str| {
        let boxes = "[[boxes]]\nport = \"/dev/ttyUSB0\"\n";
        let text =
            format!("plow = \"plow.toml\"\nsetting = \"low\"\n[runs]\nfolder = \"runs\"\n{live}{boxes}");
        std::fs::write(&config, text).unwrap();
    };
    describe("");
    refused("it says nothing of a page");
    describe("[live]\naddress = \"192.168.7.1:8377\"\ntoken_file = \"tokens\"\n");
    refused("the recorder makes it when it first serves the page");
    assert!(!tokens.exists());
    std::fs::write(&tokens, "control = \"1\"\n").unwrap();
    refused("these are no tokens of the page");
    let token = |digit: &str| digit.repeat(32);
    let text = format!("control = \"{}\"\nlook_on = \"{}\"\n", token("a"), token("b"));
    std::fs::write(&tokens, &text).unwrap();
    #[cfg(unix)]
    nobody_else_gets_them(folder.path(), &config, &tokens);
    let output = asked();
    assert!(output.status.success(), "{}", stderr(&output));
    let expected = format!(
        "page, to start, stop and mark: http://192.168.7.1:8377/?token={}\n\
         page, to look on only: http://192.168.7.1:8377/?token={}\n",
        token("a"),
        token("b")
    );
    assert_eq!(String::from_utf8_lossy(&output.stdout), expected);
    assert_eq!(std::fs::read_to_string(&tokens).unwrap(), text);
    describe("[live]\naddress = \"127.0.0.1:8377\"\n");
    assert_eq!(String::from_utf8_lossy(&asked().stdout).matches("http://127.0.0.1:8377/\n").count(), 1);
}

/// Who may not read the file is told so, and how to get the links; root, who may read all, asks as somebody else.
#[cfg(unix)]
fn nobody_else_gets_them(folder: &Path, config: &Path, tokens: &Path) {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    let set_mode = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    let mut command = Command::new(env!("CARGO_BIN_EXE_hitchwright-recorder"));
    command.args(["links", "--config"]).arg(config);
    if rustix::process::geteuid().is_root() {
        set_mode(folder, 0o755);
        command.uid(65_534).gid(65_534);
    }
    set_mode(tokens, 0o000);
    match command.output() {
        Ok(output) => {
            let said = stderr(&output);
            assert!(output.status.code() == Some(1) && output.stdout.is_empty(), "{said}");
            let path = tokens.to_string_lossy();
            assert!(said.contains(&*path) && said.contains("you may not read this file"), "{said}");
            assert!(said.contains("sudo") && said.lines().count() == 1, "{said}");
        }
        // The program lies where nobody else may go.
        Err(error) => println!("not tried: {error}"),
    }
    set_mode(tokens, 0o600);
}
