//! A recorder with its page, a box, and a browser that looks at it.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use held::plow_toml;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::field::Field;
use hitchwright_tests::process::Running;
use hitchwright_tests::{Doing, Failure, Outcome};
use sample_runs::sensors::Sensor;

use crate::browser::Browser;

/// Longest that something may take on a busy machine.
pub const SOON: Duration = Duration::from_secs(10);

/// Tail deflection, pull and depth that a box holds: what a page must show is then known.
pub const HELD: &str =
    "--hold tail=18150 --hold pull=2012840 --hold depth=37800 --noise 0 --rows-per-frame 1";

/// A recorder with its page, and the box that it listens to.
pub struct Seat {
    pub field: Field,
    pub recorder: Running,
    pub sensor_box: Running,
    /// Where the page is.
    pub port: u16,
    box_port: PathBuf,
}

impl Seat {
    /// With a plow of two settings, and a box that is started with these words.
    pub fn start(box_words: &str) -> Outcome<Self> {
        Self::start_with(box_words, "[settings.higher]\nplow_hole = \"4\"\ntractor_hole = \"4\"\n", "port")
    }

    /// With these settings besides `as-found`, and a port of this name.
    pub fn start_with(box_words: &str, settings: &str, port_name: &str) -> Outcome<Self> {
        let box_words = format!("--speed-up 1 --working-s 600 {box_words}");
        let field = Field::new()?.with_box(&box_words);
        let plow = plow_toml(&Sensor::BASIC);
        fs::write(field.plow(), format!("{plow}\n{settings}"))
            .doing(|| "write the plow description".into())?;
        let sensor_box = field.start_box()?;
        let box_port = field.path(port_name);
        if box_port != field.port() {
            std::os::unix::fs::symlink(field.port(), &box_port).doing(|| "name the port".into())?;
        }
        let (recorder, port) = start_recorder(&field, &box_port, 0)?;
        Ok(Self { field, recorder, sensor_box, port, box_port })
    }

    /// Chooses a setting and shares on the page, and keeps that.
    pub fn choose(&self, browser: &Browser, setting: &str, share: &str) -> Outcome<()> {
        browser.run("document.getElementById('choice').click()")?;
        for (place, value) in [("settings", setting), ("shares", share)] {
            browser.run(&format!("document.querySelector('#{place} input[value={value}]').click()"))?;
        }
        browser.until(
            "room to keep it",
            SOON,
            "document.getElementById('chosen').ariaDisabled === 'false'",
        )?;
        browser.run("document.getElementById('chosen').click()")?;
        browser.until("what is kept", SOON, &shows_choice(setting, share))
    }

    /// Chooses a setting on the page and starts a run, by script.
    pub fn start_run(&self, browser: &Browser) -> Outcome<()> {
        browser.until(
            "a recorder that stands by",
            SOON,
            "document.getElementById('start').ariaDisabled === 'false'",
        )?;
        self.choose(browser, "as-found", "sharp")?;
        browser.until("a start", SOON, "document.getElementById('start').ariaDisabled === 'false'")?;
        browser.run("document.getElementById('start').click()")?;
        browser.until("a run", SOON, "document.documentElement.dataset.phase === 'recording'")
    }

    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}/", self.port)
    }

    /// A browser with the page, as soon as figures stand on it.
    pub fn browser(&self) -> Outcome<Browser> {
        self.browser_with_letters(16)
    }

    /// The same, with letters of so many pixels.
    pub fn browser_with_letters(&self, pixels: u32) -> Outcome<Browser> {
        let browser = Browser::with_letters(pixels)?;
        browser.go(&self.url())?;
        browser.until("figures", SOON, "/[0-9]/.test(document.getElementById('load-figure').innerText)")?;
        // The cautions are read first.
        assert_eq!(browser.run("return document.documentElement.dataset.part")?, "safe");
        browser.run("document.getElementById('safe-read').click()")?;
        Ok(browser)
    }

    /// Another recorder in the place of one that was killed, and another box, for a box ends with its host.
    pub fn start_again(self) -> Outcome<Self> {
        let Self { field, recorder, sensor_box, port, box_port } = self;
        drop((recorder, sensor_box));
        fs::remove_file(field.truth()).doing(|| "take away what the first box knew".into())?;
        let sensor_box = field.start_box()?;
        let (recorder, port) = start_recorder(&field, &box_port, port)?;
        Ok(Self { field, recorder, sensor_box, port, box_port })
    }

    /// The folders of the runs, in order of their names.
    pub fn runs(&self) -> Outcome<Vec<PathBuf>> {
        hitchwright_tests::run_folder::runs_in(&self.field.runs())
    }
}

/// Whether the button shows this choice, as an expression of the page.
pub fn shows_choice(setting: &str, share: &str) -> String {
    format!(
        "document.getElementById('choice-setting').textContent === '{setting}' \
         && document.getElementById('choice-share').textContent.startsWith('{share} ')"
    )
}

/// A recorder whose box and receiver are not plugged in, and the port of its page.
pub fn without_devices(field: &Field) -> Outcome<(Running, u16)> {
    start_recorder_with(field, &field.port(), 0, &["--gnss", &field.path("gnss").display().to_string()])
}

fn start_recorder(field: &Field, box_port: &Path, port: u16) -> Outcome<(Running, u16)> {
    start_recorder_with(field, box_port, port, &[])
}

fn start_recorder_with(field: &Field, box_port: &Path, port: u16, more: &[&str]) -> Outcome<(Running, u16)> {
    let args: [OsString; 2] = ["--live".into(), format!("127.0.0.1:{port}").into()];
    let args = args.into_iter().chain(more.iter().map(OsString::from));
    let paths = [("--plow", field.plow()), ("--port", box_port.to_owned()), ("--out", field.runs())];
    let args = args.chain(paths.into_iter().flat_map(|(name, path)| [name.into(), path.into_os_string()]));
    let mut recorder = Running::start(Program::Recorder, args)?;
    let line = recorder.wait_for_line("http://127.0.0.1:", SOON)?;
    let port = port_of(&line)?;
    Ok((recorder, port))
}

/// The port in a line that names an address of this computer.
pub fn port_of(line: &str) -> Outcome<u16> {
    let rest = line.split("127.0.0.1:").nth(1).unwrap_or_default();
    let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
    digits.parse().map_err(|_| Failure(format!("no port in {line:?}")))
}
