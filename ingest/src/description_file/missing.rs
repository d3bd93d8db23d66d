//! What is to be said where a file of a description, or of a run, is not there.

use super::kind::DescriptionKind;
use std::path::Path;

/// So many run folders are named.
const NAMED_MAX: usize = 3;

/// What is missing precisely, and what to do.
pub(super) fn not_there(kind: DescriptionKind, path: &Path) -> String {
    match kind {
        DescriptionKind::Plow => format!(
            "there is no such file: `hitchwright describe {}` asks for what belongs into it",
            path.display()
        ),
        DescriptionKind::Run => not_in_run(path),
        DescriptionKind::Recorder => "there is no such file".to_owned(),
    }
}

/// The path itself stands before it.
fn not_in_run(path: &Path) -> String {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let again = "copy the whole folder again from where the run was made";
    if folder.is_file() {
        return "this is a file and no folder: name the folder of a run".to_owned();
    }
    if !folder.is_dir() {
        return "there is no such folder: name the folder of a run".to_owned();
    }
    if path.file_name().is_some_and(|name| name != "run.toml") {
        return if path.with_extension("wire").exists() {
            "the file is missing; `hitchwright check --repair` makes it again from the raw bytes beside it"
                .to_owned()
        } else {
            format!(
                "the file is missing, and the raw bytes from which it could be made again are missing too: {again}"
            )
        };
    }
    let runs = runs_in(folder);
    if !runs.is_empty() {
        let named: Vec<&str> = runs.iter().take(NAMED_MAX).map(String::as_str).collect();
        let more = if runs.len() > NAMED_MAX { ", ..." } else { "" };
        return format!(
            "the file is missing; not this folder is a run, but those in it: {}{more}",
            named.join(", ")
        );
    }
    if folder.join("plow.wire").exists() || folder.join("plow.csv").exists() {
        return format!(
            "the file is missing, which says with what plow, setting and calibrations the run was recorded: {again}; \
             readings of another logger become a run by `hitchwright import`"
        );
    }
    "the file is missing, so this is no run: `record` and `import` make one, a folder with run.toml, plow.csv and \
     events.csv"
        .to_owned()
}

/// Names of the runs directly in a folder.
fn runs_in(folder: &Path) -> Vec<String> {
    let within = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut runs: Vec<String> = within
        .filter(|entry| entry.path().join("run.toml").is_file())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    runs.sort();
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn what_is_missing_of_a_run_is_said_with_what_to_do() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let said = |name: &str| not_there(DescriptionKind::Run, &at(name));
        assert!(said("none/run.toml").starts_with("there is no such folder"));
        assert!(said("run.toml").contains("so this is no run"), "{}", said("run.toml"));
        fs::write(at("plow.wire"), "").unwrap();
        assert!(said("run.toml").contains("copy the whole folder again"), "{}", said("run.toml"));
        fs::remove_file(at("plow.wire")).unwrap();
        fs::write(at("plow.csv"), "").unwrap();
        assert!(said("run.toml").contains("copy the whole folder again"), "{}", said("run.toml"));
        assert!(said("plow.csv/run.toml").starts_with("this is a file"));
        assert!(said("front.csv").contains("are missing too"), "{}", said("front.csv"));
        fs::write(at("front.wire"), "").unwrap();
        assert!(said("front.csv").contains("check --repair"), "{}", said("front.csv"));
        for (run, named) in [("d", "d"), ("b", "b, d"), ("a", "a, b, d"), ("c", "a, b, c, ...")] {
            fs::create_dir(at(run)).unwrap();
            fs::write(at(run).join("run.toml"), "").unwrap();
            assert!(said("run.toml").ends_with(&format!("but those in it: {named}")), "{}", said("run.toml"));
        }
    }
}
