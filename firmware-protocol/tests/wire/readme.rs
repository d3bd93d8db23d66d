//! The worked examples of the README, both ways: the page is the specification, so it has to be right.

use firmware_protocol::Event;

use crate::samples::{body, events, one_of_each, page, wire};

const NAMES: [&str; 9] = ["hello", "readings", "mark", "status", "time", "ping", "start", "stop", "rate"];

struct Example {
    name: String,
    body: Vec<u8>,
    wire: Vec<u8>,
}

/// Reads `### Example: name` and the block after it: a column of 6 with `body` or `wire` where one
/// begins, then bytes in hex, then, after two blanks, words.
fn examples(page: &str) -> Vec<Example> {
    let mut all: Vec<Example> = Vec::new();
    let mut in_wire = false;
    for line in page.lines().skip_while(|line| *line != "## Examples") {
        if let Some(name) = line.strip_prefix("### Example: ") {
            all.push(Example { name: name.into(), body: Vec::new(), wire: Vec::new() });
        }
        let (Some(example), Some((column, text))) = (all.last_mut(), line.split_at_checked(6)) else {
            continue;
        };
        match column {
            "body  " => in_wire = false,
            "wire  " => in_wire = true,
            "      " => {}
            _ => continue,
        }
        let hex = text.split("  ").next().unwrap_or_default();
        let bytes = hex.split(' ').map(|byte| u8::from_str_radix(byte, 16).unwrap());
        if in_wire { example.wire.extend(bytes) } else { example.body.extend(bytes) }
    }
    all
}

#[test]
fn each_example_is_what_the_code_sends_and_reads() {
    let examples = examples(&page());
    let names: Vec<&str> = examples.iter().map(|example| example.name.as_str()).collect();
    assert_eq!(names, NAMES);
    for (example, frame) in examples.iter().zip(one_of_each()) {
        assert_eq!(wire(&frame), example.wire, "{}", example.name);
        assert_eq!(events(&example.wire), vec![Event::Frame(frame)], "{}", example.name);
        assert_eq!(body(&example.wire), example.body, "{}", example.name);
    }
}
