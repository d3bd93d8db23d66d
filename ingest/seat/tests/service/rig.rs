//! The service on a scripted box, with a service manager that the test plays.

use super::scripted_box::{Act, ScriptedBox};
use rustix::process::{Pid, Signal, kill_process};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::os::unix::net::UnixDatagram;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

pub const PLOW: &str = include_str!("../../../tests/recording/plow.toml");

/// What the button of the page that starts a run sends.
pub const START: &str = "{\"wish\":\"start\"}";

/// A folder with a plow, a description of the recorder, and the manager's socket.
pub struct Rig {
    pub folder: tempfile::TempDir,
    manager: UnixDatagram,
    heard: Vec<String>,
}

impl Rig {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let manager = UnixDatagram::bind(folder.path().join("notify")).unwrap();
        manager.set_nonblocking(true).unwrap();
        let rig = Self { folder, manager, heard: Vec::new() };
        std::fs::write(rig.path("plow.toml"), PLOW).unwrap();
        rig.configure("");
        rig
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes `recorder.toml` with more lines in its table of runs.
    pub fn configure(&self, runs: &str) {
        let text = format!(
            "plow = \"plow.toml\"\nsetting = \"low\"\nbaud = 921600\nstarted_by = \"hand\"\nstatus_file = \"status.json\"\n\
             [runs]\nfolder = \"runs\"\n{runs}\n[live]\naddress = \"127.0.0.1:0\"\n[[boxes]]\nport = \"port\"\n"
        );
        std::fs::write(self.path("recorder.toml"), text).unwrap();
    }

    /// Plugs in a box that does this, on a thread of its own.
    pub fn plug(&self, acts: Vec<Act>) -> JoinHandle<()> {
        let scripted = ScriptedBox::new(&self.path("port"));
        std::thread::spawn(move || scripted.run(acts))
    }

    pub fn start(&self) -> Service {
        let log = std::fs::File::create(self.path("log")).unwrap();
        let child = Command::new(env!("CARGO_BIN_EXE_hitchwright-recorder"))
            .arg("--config")
            .arg(self.path("recorder.toml"))
            .env("NOTIFY_SOCKET", self.path("notify"))
            .env("WATCHDOG_USEC", "400000")
            .env("JOURNAL_STREAM", "1:1")
            .env_remove("HITCHWRIGHT_LOG")
            .stdin(Stdio::null())
            .stderr(log)
            .spawn()
            .unwrap();
        Service(child)
    }

    pub fn log(&self) -> String {
        std::fs::read_to_string(self.path("log")).unwrap_or_default()
    }

    /// All that the manager has heard so far.
    pub fn heard(&mut self) -> &[String] {
        let mut buffer = [0; 4096];
        while let Ok(length) = self.manager.recv(&mut buffer) {
            self.heard.push(String::from_utf8_lossy(&buffer[..length]).into_owned());
        }
        &self.heard
    }

    /// Waits until something said to the manager has this in it, and forgets what came before.
    pub fn wait_to_hear(&mut self, part: &str) -> String {
        let until = Instant::now() + Duration::from_secs(15);
        loop {
            let at = self.heard().iter().position(|message| message.contains(part));
            if let Some(at) = at {
                return self.heard.drain(..=at).next_back().unwrap_or_default();
            }
            assert!(Instant::now() < until, "no {part:?} in {:?}\n{}", self.heard, self.log());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    pub fn wait_for_log(&self, part: &str) {
        let until = Instant::now() + Duration::from_secs(15);
        while !self.log().contains(part) {
            assert!(Instant::now() < until, "no {part:?} in\n{}", self.log());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Presses the button of the page that starts a run.
    pub fn press_start(&mut self) {
        self.wish(START);
    }

    /// Asks for something as the page does.
    pub fn wish(&mut self, body: &str) {
        let answer = self.answer_to(body);
        assert!(answer.starts_with("HTTP/1.1 200 "), "{answer}");
    }

    /// The page's answer to a wish.
    pub fn answer_to(&mut self, body: &str) -> String {
        self.wait_for_log("<6>standing by");
        self.wait_for_log("page served address=");
        let log = self.log();
        let address = log.rsplit("page served address=").next().unwrap().lines().next().unwrap().to_owned();
        let mut page = TcpStream::connect(&address).unwrap();
        write!(
            page,
            "POST /wish HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\nContent-Type: application/json\r\n\
             Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        )
        .unwrap();
        let mut answer = String::new();
        page.read_to_string(&mut answer).unwrap();
        answer
    }

    /// The status file.
    pub fn status(&self) -> serde_json::Value {
        serde_json::from_slice(&std::fs::read(self.path("status.json")).unwrap()).unwrap()
    }

    /// Names of what is in the folder of runs.
    pub fn runs(&self) -> Vec<String> {
        names(&self.path("runs"))
    }
}

pub fn names(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut names: Vec<_> =
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

/// The program at work; ended when it goes out of scope.
pub struct Service(Child);

impl Service {
    pub fn signal(&self, signal: Signal) {
        kill_process(Pid::from_child(&self.0), signal).unwrap();
    }

    pub fn is_running(&mut self) -> bool {
        self.0.try_wait().unwrap().is_none()
    }

    /// Asks it to end, and waits; gives its status and how long it took.
    pub fn end(mut self) -> (ExitStatus, Duration) {
        let asked = Instant::now();
        self.signal(Signal::TERM);
        let status = self.0.wait().unwrap();
        (status, asked.elapsed())
    }

    /// Cuts its power.
    pub fn kill(mut self) {
        self.0.kill().unwrap();
        self.0.wait().unwrap();
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
