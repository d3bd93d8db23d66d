//! Requests to the server at the seat: whatever the bytes, nothing goes out to whom it should not, and every refusal is
//! one sentence.

use ingest::plow::read_plow_text;
use ingest::recorder::{Controls, Wish};
use seat::live::{Choice, Live};
use seat::server::{Desk, OLD_LINK, Tokens};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

const PLOW: &str = include_str!("../../../sample-runs/plows/two-bottom.toml");
/// More is not read of an answer that has no end.
const ANSWER_MAX: u64 = 200_000;

/// The first byte says who asks: this computer, or another one without a token; the rest is what is asked.
pub fn body(data: &[u8]) {
    let [who, asked @ ..] = data else { return };
    let from_here = who % 2 == 0;
    let (from, to) = if from_here {
        ("127.0.0.1:50000", "127.0.0.1:8377")
    } else {
        ("192.168.7.20:50000", "192.168.7.1:8377")
    };
    let (from, to): (SocketAddr, SocketAddr) = match (from.parse(), to.parse()) {
        (Ok(from), Ok(to)) => (from, to),
        other => panic!("{other:?}"),
    };
    let plow = read_plow_text(PLOW, Path::new("plow.toml")).unwrap_or_else(|error| panic!("{error}"));
    let tokens = Tokens::random().unwrap_or_else(|error| panic!("{error}"));
    let (controls, mut wishes) = Controls::new();
    let live = Arc::new(Live::new(plow, &[], Choice::default()));
    let desk = Desk::new(Some(tokens), live, controls, axum::Router::new());
    // Its time is wound on wherever all wait, so that what is waited for in vain is over at once.
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().start_paused(true).build();
    let runtime = runtime.unwrap_or_else(|error| panic!("{error}"));
    let answer = runtime.block_on(async {
        let (near, far) = duplex(64 * 1024);
        let (read, mut write) = tokio::io::split(near);
        let asking = async {
            // Whoever does not want to hear more closes.
            let _ = write.write_all(asked).await;
            let _ = write.shutdown().await;
            let mut answer = Vec::new();
            let mut read = read.take(ANSWER_MAX);
            let reading = read.read_to_end(&mut answer);
            let _ = tokio::time::timeout(Duration::from_secs(20), reading).await;
            answer
        };
        tokio::select! {
            biased;
            answer = asking => answer,
            () = async {
                desk.answer(far, from, to).await;
                std::future::pending::<()>().await;
            } => Vec::new(),
        }
    });
    judge(&answer, from_here);
    while let Ok(wish) = wishes.try_recv() {
        assert!(from_here, "a wish of somebody without a token: {wish:?}");
        if let Wish::Start(choice) | Wish::Choose(choice) = wish {
            for text in choice.field.iter().chain(&choice.note) {
                assert!(text.chars().count() <= 400 && !text.chars().any(char::is_control), "{text:?}");
            }
        }
    }
}

fn judge(answer: &[u8], from_here: bool) {
    if answer.is_empty() {
        return;
    }
    let end = answer.windows(4).position(|four| four == b"\r\n\r\n");
    let (head, body) = answer.split_at(end.map_or(answer.len(), |end| end + 4));
    let head = String::from_utf8_lossy(head).to_ascii_lowercase();
    let status: u16 = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or_default();
    assert!((200..600).contains(&status) && status != 500, "{head}");
    assert!(!head.contains("access-control-allow"), "{head}");
    let is_old_link = status == 401 && body == OLD_LINK.as_bytes();
    if !from_here {
        assert!(status >= 400 && (body.is_empty() || is_old_link), "somebody without a token got:\n{head}");
        assert!(!head.contains("set-cookie"), "{head}");
    }
    if is_old_link {
        assert!(head.contains("content-security-policy: default-src 'none'"), "{head}");
    } else if status >= 400 {
        let said = String::from_utf8_lossy(body);
        assert!(said.len() < 400 && !said.chars().any(char::is_control), "not one sentence: {said:?}");
    } else {
        assert!(head.contains("content-security-policy: default-src 'none'"), "{head}");
    }
}
