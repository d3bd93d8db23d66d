//! A real browser, led by its driver: the few commands of WebDriver (W3C, 2018) that these tests need, as JSON over one
//! local connection each. A client with all of them would be the largest dependency of the workspace's tests.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::Duration;

use hitchwright_tests::process::{Running, wait_until};
use hitchwright_tests::{Doing, Failure, Outcome};
use serde_json::{Value, json};
use tempfile::TempDir;

/// Longest that the browser may take for anything.
const PATIENCE: Duration = Duration::from_secs(30);

/// A browser with one window; closed when it goes out of scope.
pub struct Browser {
    session: String,
    port: u16,
    driver: Running,
    profile: TempDir,
}

impl Browser {
    /// Starts one that has never been used.
    pub fn start() -> Outcome<Self> {
        Self::with_letters(16)
    }

    /// The same of somebody who has set its letters to so many pixels; 16 are usual.
    pub fn with_letters(pixels: u32) -> Outcome<Self> {
        let profile = TempDir::with_prefix("browser-").doing(|| "make a folder for the browser".into())?;
        let mut command = Command::new("chromedriver");
        command.arg("--port=0");
        let mut driver = Running::spawn("chromedriver", command, Stdio::null())
            .map_err(|failure| Failure(format!("{failure}: install chromium and chromium-driver")))?;
        let line = driver.wait_for_line("successfully on port ", PATIENCE)?;
        let digits: String =
            line.rsplit("on port ").next().unwrap_or("").chars().take_while(char::is_ascii_digit).collect();
        let port = digits.parse().doing(|| format!("read the port in {line:?}"))?;
        let folder = profile.path().display();
        let args = [
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--hide-scrollbars",
            &format!("--user-data-dir={folder}"),
        ];
        let wanted = json!({"capabilities": {"alwaysMatch": {
            "browserName": "chrome",
            "goog:loggingPrefs": {"browser": "ALL"},
            "goog:chromeOptions": {"args": args, "prefs": {"webkit": {"webprefs": {"default_font_size": pixels}}}},
        }}});
        let mut browser = Self { session: String::new(), port, driver, profile };
        let begun = browser.ask("POST", "/session", &wanted)?;
        browser.session = begun["sessionId"].as_str().unwrap_or_default().to_owned();
        Ok(browser)
    }

    /// Asks the driver and gives the value of its answer.
    fn ask(&self, method: &str, path: &str, body: &Value) -> Outcome<Value> {
        let what = || format!("ask the browser's driver for {path}");
        let mut line = TcpStream::connect(("127.0.0.1", self.port)).doing(what)?;
        line.set_read_timeout(Some(PATIENCE)).doing(what)?;
        let body = body.to_string();
        let host = format!("127.0.0.1:{}", self.port);
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nContent-Length: {}\r\n\r\n",
            body.len()
        );
        line.write_all(format!("{head}{body}").as_bytes()).doing(what)?;
        let mut answer = BufReader::new(line);
        let mut length = 0;
        loop {
            let mut header = String::new();
            answer.read_line(&mut header).doing(what)?;
            if let Some((name, value)) = header.split_once(':')
                && name.eq_ignore_ascii_case("content-length")
            {
                length = value.trim().parse().doing(what)?;
            }
            if header.trim().is_empty() {
                break;
            }
        }
        let mut text = vec![0; length];
        answer.read_exact(&mut text).doing(what)?;
        let mut answer: Value = serde_json::from_slice(&text).doing(what)?;
        match answer["value"]["error"].as_str() {
            Some(error) => Err(Failure(format!("{path}: {error}: {}", answer["value"]["message"]))),
            None => Ok(answer["value"].take()),
        }
    }

    fn tell(&self, path: &str, body: &Value) -> Outcome<Value> {
        self.ask("POST", &format!("/session/{}{path}", self.session), body)
    }

    pub fn go(&self, url: &str) -> Outcome<()> {
        self.tell("/url", &json!({ "url": url })).map(drop)
    }

    /// Runs this script in the page; it gives what it returns, and waits for what it promises.
    pub fn run(&self, script: &str) -> Outcome<Value> {
        self.tell("/execute/sync", &json!({ "script": script, "args": [] }))
    }

    /// The text of the element with this `id`, as it is shown.
    pub fn text(&self, id: &str) -> Outcome<String> {
        let text = self.run(&format!("return document.getElementById('{id}').innerText"))?;
        text.as_str().map(str::to_owned).ok_or_else(|| Failure(format!("#{id} has no text: {text}")))
    }

    /// Waits until this expression of the page is true.
    pub fn until(&self, what: &str, at_most: Duration, expression: &str) -> Outcome<()> {
        let script = format!("return Boolean({expression})");
        let found = wait_until(what, at_most, || Ok((self.run(&script)? == Value::Bool(true)).then_some(())));
        found.map_err(|failure| {
            let page = self.run("return document.body.innerText").unwrap_or_default();
            Failure(format!("{failure}; the page shows:\n{}", page.as_str().unwrap_or_default()))
        })
    }

    /// A device with a screen of so many pixels, that wishes for dark or not.
    pub fn screen(&self, width: u32, height: u32, dark: bool) -> Outcome<()> {
        let phone = width < 700;
        self.develop(
            "Emulation.setDeviceMetricsOverride",
            &json!({"width": width, "height": height, "deviceScaleFactor": if phone { 2 } else { 1 }, "mobile": phone}),
        )?;
        let wish = if dark { "dark" } else { "light" };
        self.develop(
            "Emulation.setEmulatedMedia",
            &json!({"features": [{"name": "prefers-color-scheme", "value": wish}]}),
        )
    }

    fn develop(&self, command: &str, params: &Value) -> Outcome<()> {
        self.tell("/goog/cdp/execute", &json!({"cmd": command, "params": params})).map(drop)
    }

    fn element(&self, selector: &str) -> Outcome<Value> {
        self.tell("/element", &json!({"using": "css selector", "value": selector}))
    }

    /// A thumb on the element with this `id`, for so long.
    pub fn press(&self, id: &str, hold: Duration) -> Outcome<()> {
        self.press_on(&format!("#{id}"), hold)
    }

    fn press_on(&self, selector: &str, hold: Duration) -> Outcome<()> {
        let at = self.element(selector)?;
        let thumb = json!({"type": "pointer", "id": "thumb", "parameters": {"pointerType": "touch"}, "actions": [
            {"type": "pointerMove", "duration": 0, "origin": at, "x": 0, "y": 0},
            {"type": "pointerDown", "button": 0},
            {"type": "pause", "duration": millis(hold)},
            {"type": "pointerUp", "button": 0},
        ]});
        self.tell("/actions", &json!({ "actions": [thumb] })).map(drop)
    }

    /// A short touch.
    pub fn tap(&self, id: &str) -> Outcome<()> {
        self.press(id, Duration::from_millis(60))
    }

    /// The space bar on the element with this `id`, for so long.
    pub fn hold_space(&self, id: &str, hold: Duration) -> Outcome<()> {
        self.run(&format!("document.getElementById('{id}').focus()"))?;
        let keys = json!({"type": "key", "id": "keys", "actions": [
            {"type": "keyDown", "value": " "},
            {"type": "pause", "duration": millis(hold)},
            {"type": "keyUp", "value": " "},
        ]});
        self.tell("/actions", &json!({ "actions": [keys] })).map(drop)
    }

    /// What the browser complained of since it was last asked: errors of scripts, what the page's policy refused.
    pub fn complaints(&self) -> Outcome<Vec<String>> {
        let log = self.tell("/se/log", &json!({"type": "browser"}))?;
        let lines = log.as_array().into_iter().flatten();
        Ok(lines.filter_map(|line| line["message"].as_str().map(str::to_owned)).collect())
    }

    /// Saves what the window shows, if `SHOTS` names a folder: for whoever wants to look.
    pub fn shoot(&self, name: &str) -> Outcome<()> {
        let Some(folder) = std::env::var_os("SHOTS").map(PathBuf::from) else { return Ok(()) };
        let shot = self.ask("GET", &format!("/session/{}/screenshot", self.session), &json!({}))?;
        let png = from_base64(shot.as_str().unwrap_or_default());
        std::fs::write(folder.join(format!("{name}.png")), png).doing(|| format!("save {name}.png"))
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // The driver closes the window and all that belongs to it, and then is ended itself.
        let _ = self.ask("DELETE", &format!("/session/{}", self.session), &json!({}));
        let _ = (&self.driver, &self.profile);
    }
}

fn millis(time: Duration) -> u64 {
    u64::try_from(time.as_millis()).unwrap_or(u64::MAX)
}

/// Base 64 (RFC 4648, section 4), of which a driver writes nothing else.
fn from_base64(text: &str) -> Vec<u8> {
    const LETTERS: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut bytes = Vec::new();
    let (mut bits, mut filled) = (0_u32, 0);
    for value in text.bytes().filter_map(|byte| LETTERS.iter().position(|letter| *letter == byte)) {
        bits = (bits << 6) | value as u32;
        filled += 6;
        if filled >= 8 {
            filled -= 8;
            bytes.push((bits >> filled) as u8);
        }
    }
    bytes
}
