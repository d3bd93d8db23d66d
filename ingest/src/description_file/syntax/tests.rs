use super::*;

/// Each fault as its line and what is said of it.
fn said(text: &str) -> Vec<(usize, String)> {
    let mended = Mended::of(text);
    Syntax::of(&mended, text).faults.into_iter().map(|fault| (fault.line, fault.message)).collect()
}

/// What keeps the third line from being TOML is said in words that a person understands who never heard of it, and in
/// nothing else.
#[test]
fn each_slip_of_the_pen_is_named_in_its_line_with_the_cure() {
    let behind = "something stands behind the value";
    let number = "a number is written like 2 or 0.5";
    let mut wrong = Vec::new();
    for (line, part) in [
        ("before = 2", "this stands in the file already"),
        ("[table", "the ] behind the name of the table is missing"),
        ("[[table", "the ] behind the name of the table is missing"),
        (r#"a = "C:\plows""#, "a backslash between quotation marks is written twice"),
        (r#"a = "\u12""#, "a backslash between quotation marks is written twice"),
        (r#"a = "14 in"#, "the quotation mark behind the text is missing"),
        ("a = '14 in", "the quotation mark behind the text is missing"),
        (r#"a = 14 in""#, "the quotation mark before the text is missing"),
        ("a = 14 in", "write it between quotation marks: \"14 in\""),
        ("a = { b = 14 in }", "write it between quotation marks: \"14 in\""),
        ("a = 1 2", "write it between quotation marks: \"1 2\""),
        ("a = sharp # as bought", "write it between quotation marks: \"sharp\""),
        ("a = ", "the value is missing"),
        ("a = # later", "the value is missing"),
        ("a = [1 2]", "a comma is missing before this"),
        ("a = { b = 1 c = 2 }", "a comma is missing before this"),
        ("a = [1,, 2]", "there is one comma too many"),
        ("a = { b = 1,, c = 2 }", "there is one comma too many"),
        ("a", KEY_AND_VALUE),
        ("a: 14", KEY_AND_VALUE),
        ("= 14", KEY_AND_VALUE),
        ("a. = 14", "a key has letters without accents"),
        ("maß = 14", "a key has letters without accents"),
        (r#"a = "a 14" share""#, behind),
        (r#"a = "x" "y""#, behind),
        ("[table] b = 1", behind),
        ("a = 014", number),
        ("a = 1__0", number),
        ("a = .5", number),
        ("a = 5.", number),
        ("a = 1e", number),
        ("a = 1_", number),
        ("a = +-1", number),
        ("a = True", "write true or false"),
        ("a = tru", "true or false"),
        ("a = “14 in”", "there is a curly quotation mark (“)"),
        ("a = \"14 in”", "a quotation mark in this line is a curly one"),
        ("“a” = 14", "there is a curly quotation mark (“)"),
    ] {
        let text = format!("before = 1\n\n{line}\n");
        let found = said(&text);
        if found.len() != 1 || found[0].0 != 3 || !found[0].1.contains(part) {
            wrong.push(format!("{line:?}: wanted {part:?}, found {found:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A quotation mark that is never closed has the rest of the file in it: the line in which it opens is named.
#[test]
fn text_of_several_lines_that_does_not_end_is_named_where_it_begins() {
    for (text, line) in [("a = 1\nb = \"\"\"one\ntwo\n", 2), ("b = '''one\ntwo\nthree\n", 1)] {
        let found = said(text);
        assert_eq!(found[0].0, line, "{found:?}");
        assert!(found[0].1.contains("the quotation mark behind the text is missing"), "{found:?}");
    }
}

/// A list that is not closed ends at the next header of a table, and not at a list within it that looks like one.
#[test]
fn what_is_not_closed_is_named_where_it_opens_and_the_next_table_is_read() {
    let lists = "[1, 2]\n[\"a\", 3],\n[#,\n[a b!]\n";
    for header in ["[tail_wheel]", "[[plow.sensors]]", "[settings.too-flat]", "[two words]"] {
        let text = format!("a = 1\nb = [\n{lists}{header}\nc = 2\n");
        let lost = unclosed(&text).unwrap();
        assert_eq!(&text[lost], format!("b = [\n{lists}"), "{header}");
    }
    let mended = Mended::of("a = 1\nb = {\n[table]\nc = 2\n");
    assert_eq!(mended.text(), "a = 1\n     \n[table]\nc = 2\n");
    assert!(unclosed("a = [ # ] \n ] # [\nb = \"[\"\nc = '{'\n").is_none());
}

/// In the same bytes, so that whatever else is wrong is found where it stands.
#[test]
fn curly_marks_are_made_straight_but_for_those_within_straight_ones() {
    for (line, straight) in [
        ("a = “14 in”\n", Some("a =   \"14 in\"  \n")),
        ("a = ‘14 in’ # “so”\n", Some("a =   \"14 in\"   # “so”\n")),
        ("a = “3' 6\"\n", Some("a =   \"3' 6\"\n")),
        ("“a” = \"say \\\"so\\\" “now”\"\n", Some("  \"a\"   = \"say \\\"so\\\" “now”\"\n")),
        ("“a” = 'C:\\' # ”\n", Some("  \"a\"   = 'C:\\' # ”\n")),
        ("a = \"say “so”\"\n", None),
        ("a = 'say “so”'\n", None),
        ("# “so”\n", None),
    ] {
        let found = straight_line(line).map(|(text, _)| text);
        assert_eq!(found.as_deref(), straight, "{line}");
        assert!(found.is_none_or(|text| text.len() == line.len()));
    }
}

/// What is wrong in one table hides nothing of another, and a header that cannot be read hides its table.
#[test]
fn what_may_be_lost_is_what_stands_before_the_next_header() {
    let hides = |text: &str, header: Option<usize>| {
        let mended = Mended::of(text);
        Syntax::of(&mended, text).may_hide(text, header)
    };
    let text = "[one]\na = 14 in\n[two]\nb = 1\n";
    assert_eq!([1, 3].map(|header| hides(text, Some(header))), [true, false]);
    assert!(!hides(text, None), "no header is lost");
    assert!(hides("[one]\na = 1\n[two\nb = 1\n", None));
    assert!(hides("[one]\na = 1\n[two]\nb = 14 i", None), "the file is torn off");
}
