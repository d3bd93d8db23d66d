//! README says what the program says.

use hitchwright_tests::command::sample;

/// A file of the repository, by its path from the top.
fn read(path: &str) -> String {
    std::fs::read_to_string(sample("..").join(path)).unwrap()
}

#[test]
fn the_cautions_stand_in_readme_word_for_word() {
    let readme = read("README.md");
    for caution in ingest::safety::CAUTIONS {
        assert!(readme.contains(&format!("- {caution}\n")), "README lacks: {caution}");
    }
}

/// The firmware's page says those that a builder of a box meets, word for word; the others in its own, longer ones.
#[test]
fn the_cautions_stand_on_the_firmwares_page() {
    let text = read("firmware-protocol/README.md");
    let [riding, hands, _, tail_wheel, _, manual] = ingest::safety::CAUTIONS;
    for caution in [riding, hands, tail_wheel, manual] {
        assert!(text.contains(&format!("- {caution}")), "firmware-protocol/README.md lacks: {caution}");
    }
    assert!(text.contains("**a safety chain goes beside\n  it**") && text.contains("rated for that"));
}

#[test]
fn every_command_in_readme_exists_with_its_options() {
    use clap::CommandFactory;
    let command = analysis::command::args::Cli::command();
    let mut lines = 0;
    for line in read("README.md").lines().filter(|line| line.starts_with("hitchwright ")) {
        lines += 1;
        let mut words = line.split_whitespace().skip(1);
        let name = words.next().unwrap();
        let known = command.find_subcommand(name).unwrap_or_else(|| panic!("README: no command {name}"));
        for option in words.filter_map(|word| word.strip_prefix("--")) {
            let exists = known.get_arguments().any(|argument| argument.get_long() == Some(option));
            assert!(exists, "README: `{name}` has no --{option}");
        }
    }
    assert!(lines >= 5, "README shows only {lines} commands");
}

#[test]
fn every_file_that_readme_points_to_is_there() {
    let text = read("README.md");
    let targets = text.split("](").skip(1).filter_map(|rest| rest.split(')').next());
    let mut files = 0;
    for target in targets.filter(|target| !target.starts_with("http")) {
        files += 1;
        assert!(sample("..").join(target).exists(), "README points to {target}, which is not there");
    }
    assert!(files >= 4);
}
