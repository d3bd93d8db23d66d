//! The page for a phone beside the steering wheel: plain files inside the program, no build step, nothing from elsewhere.
//!
//! `seat.js` puts what the recorder says (`/live`) on the page, as text and never as markup; `live.js` keeps the line to
//! the recorder and knows how old the figures are; `strip.js` and `balance.js` draw; `actions.js` starts, stops and
//! marks.

/// A file of the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PageFile {
    /// Where a browser asks for it.
    pub path: &'static str,
    /// What it is.
    pub content_type: &'static str,
    /// Its text.
    pub body: &'static str,
}

const SCRIPT: &str = "text/javascript; charset=utf-8";

/// All files of the page, the page itself first.
pub const FILES: [PageFile; 14] = [
    PageFile { path: "/", content_type: "text/html; charset=utf-8", body: include_str!("index.html") },
    PageFile { path: "/seat.css", content_type: "text/css; charset=utf-8", body: include_str!("seat.css") },
    PageFile { path: "/icon.svg", content_type: "image/svg+xml", body: include_str!("icon.svg") },
    PageFile { path: "/seat.js", content_type: SCRIPT, body: include_str!("seat.js") },
    PageFile { path: "/actions.js", content_type: SCRIPT, body: include_str!("actions.js") },
    PageFile { path: "/alarm.js", content_type: SCRIPT, body: include_str!("alarm.js") },
    PageFile { path: "/balance.js", content_type: SCRIPT, body: include_str!("balance.js") },
    PageFile { path: "/bars.js", content_type: SCRIPT, body: include_str!("bars.js") },
    PageFile { path: "/kept.js", content_type: SCRIPT, body: include_str!("kept.js") },
    PageFile { path: "/live.js", content_type: SCRIPT, body: include_str!("live.js") },
    PageFile { path: "/places.js", content_type: SCRIPT, body: include_str!("places.js") },
    PageFile { path: "/runs.js", content_type: SCRIPT, body: include_str!("runs.js") },
    PageFile { path: "/strip.js", content_type: SCRIPT, body: include_str!("strip.js") },
    PageFile { path: "/units.js", content_type: SCRIPT, body: include_str!("units.js") },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::server::{FIELD_CHARACTERS, NOTE_CHARACTERS};
    use ingest::safety::{BEFORE_HANDS, CAUTIONS};

    fn body(path: &str) -> &'static str {
        FILES.iter().find(|file| file.path == path).map_or("", |file| file.body)
    }

    #[test]
    fn the_cautions_stand_on_the_page_in_their_words() {
        let page = body("/");
        for caution in CAUTIONS {
            assert!(page.contains(caution), "{caution}");
        }
        let choice = page.split("id=\"choose\"").nth(1).unwrap().split("</section>").next().unwrap();
        assert!(choice.contains(BEFORE_HANDS), "beside the choice of a hitch setting");
        assert!(page.contains("The driver does not operate this under way."));
        let footer = page.split("<footer>").nth(1).unwrap();
        for caution in &CAUTIONS[..2] {
            assert!(footer.contains(caution), "beside Start: {caution}");
        }
    }

    #[test]
    fn no_more_can_be_typed_than_is_taken() {
        for (id, most) in [("field", FIELD_CHARACTERS), ("note", NOTE_CHARACTERS)] {
            assert!(body("/").contains(&format!("id=\"{id}\" type=\"text\" maxlength=\"{most}\"")), "{id}");
        }
    }

    /// A strict content security policy refuses both, and the page would stand there without either.
    #[test]
    fn nothing_is_written_into_the_page_that_its_policy_refuses() {
        let page = body("/");
        for refused in ["<style", " style=", " onclick", "javascript:", "http:", "https:"] {
            assert!(!page.contains(refused), "{refused}");
        }
        assert_eq!(page.matches("<script").count(), 1);
    }

    /// What comes from outside is text; and every file that one asks for is there.
    #[test]
    fn scripts_write_text_only_and_find_each_other() {
        for script in FILES.iter().filter(|file| file.content_type == SCRIPT) {
            for markup in
                ["innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function"]
            {
                assert!(!script.body.contains(markup), "{} has {markup}", script.path);
            }
            for asked in script.body.split("from \"./").skip(1).filter_map(|rest| rest.split('"').next()) {
                assert!(!body(&format!("/{asked}")).is_empty(), "{} asks for {asked}", script.path);
            }
        }
    }

    #[test]
    fn every_place_that_a_script_names_is_on_the_page() {
        for script in FILES.iter().filter(|file| file.content_type == SCRIPT) {
            for id in script.body.split("$(\"").skip(1).filter_map(|rest| rest.split('"').next()) {
                assert!(body("/").contains(&format!("id=\"{id}\"")), "{} names {id}", script.path);
            }
        }
    }
}
