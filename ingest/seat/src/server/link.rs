//! The links to type or scan: with an address that other computers can reach, and a token where one is needed.

use super::token::{Right, Tokens};
use crate::characters::Characters;
use qrcode::render::Renderer;
use qrcode::render::unicode::Dense1x2;
use qrcode::{EcLevel, QrCode};
use std::net::{IpAddr, SocketAddr};

/// A link to the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// What whoever follows it may do.
    pub right: Right,
    /// The link.
    pub url: String,
}

/// The tokens that whoever comes to a server at this address has to show, from where they are; none if this computer alone
/// reaches it.
///
/// # Errors
/// If they cannot be had.
pub fn tokens_at<E>(
    address: SocketAddr,
    tokens: impl FnOnce() -> Result<Tokens, E>,
) -> Result<Option<Tokens>, E> {
    if address.ip().is_loopback() { Ok(None) } else { tokens().map(Some) }
}

/// The links to a server at this address with these tokens of [`tokens_at`]: first those that control.
#[must_use]
pub fn links(address: SocketAddr, tokens: Option<&Tokens>) -> Vec<Link> {
    let Some(tokens) = tokens else {
        return vec![Link { right: Right::Control, url: format!("http://{address}/") }];
    };
    let places: Vec<SocketAddr> = match address.ip().is_unspecified() {
        false => vec![address],
        true => reachable(address).into_iter().map(|ip| SocketAddr::new(ip, address.port())).collect(),
    };
    let both = [(Right::Control, &tokens.control), (Right::LookOn, &tokens.look_on)];
    both.iter()
        .flat_map(|(right, token)| {
            places
                .iter()
                .map(|place| Link { right: *right, url: format!("http://{place}/?token={}", token.text()) })
        })
        .collect()
}

/// Addresses of this computer by which others reach it; none if the system does not tell.
fn reachable(bound: SocketAddr) -> Vec<IpAddr> {
    let interfaces = if_addrs::get_if_addrs().unwrap_or_default();
    let mut found: Vec<_> =
        interfaces.iter().map(if_addrs::Interface::ip).filter(|ip| worth_a_link(*ip)).collect();
    if bound.is_ipv4() {
        found.retain(IpAddr::is_ipv4);
    }
    found.sort();
    found.dedup();
    found
}

/// Not this computer's own, and none that a link cannot say (link-local ones of IPv6 want the name of a card).
fn worth_a_link(ip: IpAddr) -> bool {
    let is_link_local = matches!(ip, IpAddr::V6(ip) if (ip.segments()[0] & 0xFFC0) == 0xFE80);
    !ip.is_loopback() && !is_link_local
}

/// Black and white of the palette of 256 colors: unlike the first sixteen, they are the same in each terminal.
pub const BLACK: u8 = 16;
/// White.
pub const WHITE: u8 = 231;
/// Two of these are a light dot where only ASCII is shown, two spaces a dark one.
pub const LIGHT: char = '#';
/// Light dots around the dots of a code of ASCII: the four that are usual would make it wider than a terminal.
const ASCII_EDGE: u32 = 2;

/// A line of what is said at the start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SaidLine {
    /// In words.
    Words(String),
    /// Of a QR code: its dots are dark where letters are light on dark.
    Dots(String),
}

impl SaidLine {
    /// As it is written to a terminal. With color, dots are black on white whatever its letters are; without, they are
    /// the other way round where letters are dark on light, which most phones read as well, as their edge is there.
    #[must_use]
    pub fn on_terminal(&self, color: bool) -> String {
        match self {
            Self::Dots(dots) if color => {
                // Of a sign that is a light dot whole no letter is seen.
                let (light, dark) = (format!("\x1b[48;5;{WHITE}m"), format!("\x1b[48;5;{BLACK}m"));
                let dots = dots.replace(LIGHT, &format!("{light}{LIGHT}{dark}"));
                let line = format!("\x1b[38;5;{WHITE}m{dark}{dots}\x1b[0m");
                line.replace(&format!("{dark}{light}"), &light)
                    .replace(&format!("{LIGHT}{light}"), &LIGHT.to_string())
            }
            Self::Words(text) | Self::Dots(text) => text.clone(),
        }
    }
}

/// Whether a terminal of these variables of the environment shows colors and may be given them.
#[must_use]
pub fn has_color(variable: impl Fn(&str) -> Option<String>) -> bool {
    variable("NO_COLOR").is_none_or(|value| value.is_empty())
        && variable("TERM").is_none_or(|term| term != "dumb")
}

/// A QR code of a link, two dots a character or, in ASCII, two characters a dot, its dots dark where letters are light;
/// `None` for a link that is too long. Its light edge is part of it, without which no phone finds it.
#[must_use]
pub fn qr_code(url: &str, characters: Characters) -> Option<String> {
    let code = QrCode::with_error_correction_level(url, EcLevel::L).ok()?;
    Some(match characters {
        Characters::Utf8 => {
            code.render::<Dense1x2>().dark_color(Dense1x2::Light).light_color(Dense1x2::Dark).build()
        }
        Characters::Ascii => Renderer::new(&code.to_colors(), code.width(), ASCII_EDGE)
            .dark_color(' ')
            .light_color(LIGHT)
            .module_dimensions(2, 1)
            .build(),
    })
}

/// What is said at the start, line by line. With QR codes of such signs if somebody may hold a phone before it: on a
/// terminal.
#[must_use]
pub fn said(links: &[Link], codes: Option<Characters>) -> Vec<SaidLine> {
    let mut lines = Vec::new();
    let mut coded = Vec::new();
    for Link { right, url } in links {
        let what = match right {
            Right::Control => "to start, stop and mark",
            Right::LookOn => "to look on only",
        };
        lines.push(SaidLine::Words(format!("page, {what}: {url}")));
        if let Some(characters) = codes
            && url.contains("token=")
            && !coded.contains(right)
        {
            coded.push(*right);
            let code = qr_code(url, characters).unwrap_or_default();
            lines.extend(code.lines().map(|line| SaidLine::Dots(line.to_owned())));
        }
    }
    if links.is_empty() {
        let none = "no network is up yet: the page has no address by which a phone could reach it";
        lines.push(SaidLine::Words(none.to_owned()));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The dots of what is printed, true where it is dark on a dark screen's light letters.
    fn dots(printed: &str, characters: Characters) -> Vec<Vec<bool>> {
        let row = |line: &str, lit: [char; 2]| line.chars().map(|c| !lit.contains(&c)).collect();
        match characters {
            Characters::Utf8 => {
                printed.lines().flat_map(|line| [row(line, ['█', '▀']), row(line, ['█', '▄'])]).collect()
            }
            Characters::Ascii => {
                let dot = |two: &[u8]| match two {
                    b"##" => false,
                    b"  " => true,
                    _ => panic!("{two:?} is no dot"),
                };
                printed.lines().map(|line| line.as_bytes().chunks(2).map(dot).collect()).collect()
            }
        }
    }

    /// What a phone reads before these dots, around which the screen is dark.
    fn read(dots: &[Vec<bool>]) -> String {
        let (scale, size) = (4, dots.len() + 8);
        let is_dark = |x: usize, y: usize| {
            let inside = |at: usize| (at / scale).checked_sub(4);
            let dot = inside(y).and_then(|y| dots.get(y)).zip(inside(x)).and_then(|(row, x)| row.get(x));
            dot.copied().unwrap_or(true)
        };
        let mut picture = rqrr::PreparedImage::prepare_from_greyscale(size * scale, size * scale, |x, y| {
            if is_dark(x, y) { 0 } else { 255 }
        });
        let found = picture.detect_grids();
        assert_eq!(found.len(), 1);
        found[0].decode().unwrap().1
    }

    #[test]
    fn a_phone_reads_the_link_from_the_screen() {
        let tokens = Tokens::random().unwrap();
        let bound: SocketAddr = "192.168.107.123:58377".parse().unwrap();
        for Link { url, .. } in links(bound, Some(&tokens)) {
            for characters in [Characters::Utf8, Characters::Ascii] {
                let printed = qr_code(&url, characters).unwrap();
                assert_eq!(read(&dots(&printed, characters)), url);
                assert_eq!(printed.is_ascii(), characters == Characters::Ascii);
                assert!(printed.lines().all(|line| line.chars().count() < 80), "a terminal is that wide");
            }
        }
    }

    /// Each sign of a code stands for two dots, one above the other, in one of its two colors.
    #[test]
    fn a_code_is_black_on_white_in_any_terminal_that_has_colors() {
        let dots = SaidLine::Dots("█▀ ▄".to_owned());
        assert_eq!(dots.on_terminal(true), "\x1b[38;5;231m\x1b[48;5;16m█▀ ▄\x1b[0m");
        assert_eq!(dots.on_terminal(false), "█▀ ▄");
        let ascii = SaidLine::Dots("##  ####".to_owned());
        assert_eq!(
            ascii.on_terminal(true),
            "\x1b[38;5;231m\x1b[48;5;231m##\x1b[48;5;16m  \x1b[48;5;231m####\x1b[48;5;16m\x1b[0m"
        );
        assert_eq!(ascii.on_terminal(false), "##  ####");
        let words = SaidLine::Words("page".to_owned());
        assert_eq!((words.on_terminal(true).as_str(), words.on_terminal(false).as_str()), ("page", "page"));
        let has = |name: &'static str, value: &'static str| {
            has_color(move |asked| (asked == name).then(|| value.to_owned()))
        };
        assert!(has("TERM", "xterm") && has("NO_COLOR", "") && !has("NO_COLOR", "1") && !has("TERM", "dumb"));
    }

    #[test]
    fn the_links_say_where_and_what_for() {
        let tokens = Tokens::random().unwrap();
        let of = |address: &str| {
            let address = address.parse().unwrap();
            links(address, tokens_at(address, || std::io::Result::Ok(tokens.clone())).unwrap().as_ref())
        };
        assert_eq!(
            of("127.0.0.1:8377"),
            [Link { right: Right::Control, url: "http://127.0.0.1:8377/".to_owned() }]
        );
        let other = of("[2001:db8::7]:80");
        assert_eq!(other[1].url, format!("http://[2001:db8::7]:80/?token={}", tokens.look_on.text()));
        for link in of("0.0.0.0:8377") {
            assert!(!link.url.contains("0.0.0.0") && !link.url.contains("127."), "{}", link.url);
        }
        assert!(
            matches!(&said(&[], Some(Characters::Utf8))[..], [SaidLine::Words(words)] if words.starts_with("no network"))
        );
        assert_eq!(said(&other, None).len(), 2);
        assert!(said(&other, Some(Characters::Ascii)).len() > 30);
    }

    #[test]
    fn addresses_that_nobody_else_reaches_get_no_link() {
        for (ip, worth) in [("127.0.0.1", false), ("::1", false), ("fe80::1", false), ("192.168.1.5", true)] {
            assert_eq!(worth_a_link(ip.parse().unwrap()), worth, "{ip}");
        }
    }
}
