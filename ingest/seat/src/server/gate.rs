//! Who is let in. Before anything of a request is looked at but its head: by which name we were asked, from which page,
//! and by whom.
//!
//! Names are held against the address that the connection came in on, never against other headers: so a page from
//! elsewhere whose name was made to point here (DNS rebinding) gets nothing.

use super::connections::Peer;
use super::counts::Counts;
use super::refused::Refused;
use super::token::{Right, Tokens};
use axum::extract::{Request, State};
use axum::http::header::{AUTHORIZATION, COOKIE, HOST, ORIGIN};
use axum::http::uri::Authority;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, Uri};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::SocketAddr;
use std::sync::Arc;

/// The cookie that holds a token.
pub const COOKIE_NAME: &str = "hitchwright";

/// The policy of the page: nothing from elsewhere, nothing written into it.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; \
    form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// What the gate knows.
#[derive(Debug)]
pub struct Gate {
    /// The tokens that other computers have to show; without them, none is let in.
    pub tokens: Option<Tokens>,
    /// What was refused.
    pub counts: Arc<Counts>,
}

/// Lets a request through to what answers it, or says no; what goes out has the headers that a
/// browser keeps to.
pub async fn gate(State(gate): State<Arc<Gate>>, mut request: Request, next: Next) -> Response {
    let peer = request.extensions().get::<Peer>().cloned();
    let judged = match &peer {
        Some(peer) => judge(
            gate.tokens.as_ref(),
            peer.from,
            peer.to,
            request.method(),
            request.uri(),
            request.headers(),
        ),
        None => Err(Refused::Host),
    };
    let mut response = match judged {
        Ok(Admitted::Known(right)) => {
            request.extensions_mut().insert(right);
            next.run(request).await
        }
        Ok(Admitted::ByLink(token)) => remember(&token),
        Err(refused) => {
            gate.counts.refused(refused);
            refused.answer(request.method(), request.headers())
        }
    };
    put_headers(response.headers_mut());
    response
}

fn put_headers(headers: &mut HeaderMap) {
    for (name, value) in [
        ("content-security-policy", POLICY),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cache-control", "no-store"),
    ] {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
}

/// Who is let in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Admitted {
    /// With this right.
    Known(Right),
    /// Came by the link, with this token in it.
    ByLink(String),
}

/// Whether a request from one address to another is let in.
pub(super) fn judge(
    tokens: Option<&Tokens>,
    from: SocketAddr,
    to: SocketAddr,
    method: &Method,
    uri: &Uri,
    headers: &HeaderMap,
) -> Result<Admitted, Refused> {
    let host = own_name(to, uri, headers).ok_or(Refused::Host)?;
    check_origin(&host, method, headers)?;
    let right = |token: &str| tokens.and_then(|tokens| tokens.right(token));
    if let Some(token) = token_of_link(uri) {
        return right(token).map(|_| Admitted::ByLink(token.to_owned())).ok_or(Refused::Token);
    }
    if from.ip().to_canonical().is_loopback() {
        return Ok(Admitted::Known(Right::Control));
    }
    let shown = token_of_cookie(headers).or_else(|| token_of_bearer(headers));
    shown.and_then(right).map(Admitted::Known).ok_or(Refused::Token)
}

/// The name by which we were asked, if it is ours: the address that the connection came in on, with its port, or
/// `localhost`.
fn own_name(to: SocketAddr, uri: &Uri, headers: &HeaderMap) -> Option<String> {
    let mut hosts = headers.get_all(HOST).iter();
    let host = hosts.next()?.to_str().ok()?;
    if hosts.next().is_some() {
        return None;
    }
    let is_ours = |authority: &Authority| {
        let ip = to.ip().to_canonical();
        let name = authority.host().trim_start_matches('[').trim_end_matches(']');
        let by_name = name.eq_ignore_ascii_case("localhost") && ip.is_loopback();
        let by_number = name.parse().is_ok_and(|number: std::net::IpAddr| number.to_canonical() == ip);
        // `user@host` is nothing that a browser sends.
        !authority.as_str().contains('@')
            && (by_name || by_number)
            && authority.port_u16().unwrap_or(80) == to.port()
    };
    let authority: Authority = host.parse().ok()?;
    let line_agrees = uri.authority().is_none_or(is_ours);
    (is_ours(&authority) && line_agrees).then(|| host.to_ascii_lowercase())
}

/// A page of ours may ask; a program that is no browser names no page.
fn check_origin(host: &str, method: &Method, headers: &HeaderMap) -> Result<(), Refused> {
    let ours = format!("http://{host}");
    let same = |origin: &HeaderValue| origin.to_str().is_ok_and(|origin| origin.eq_ignore_ascii_case(&ours));
    let fetch = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let from_elsewhere = matches!(fetch("sec-fetch-site"), Some("cross-site" | "same-site"));
    // To come here by a link from elsewhere is no harm, to be asked behind the person's back is.
    let is_visit = *method == Method::GET && fetch("sec-fetch-mode") == Some("navigate");
    let ok = headers.get_all(ORIGIN).iter().all(same) && (!from_elsewhere || is_visit);
    ok.then_some(()).ok_or(Refused::Origin)
}

fn token_of_link(uri: &Uri) -> Option<&str> {
    if uri.path() != "/" {
        return None;
    }
    uri.query()?.split('&').find_map(|pair| pair.strip_prefix("token="))
}

fn token_of_cookie(headers: &HeaderMap) -> Option<&str> {
    let cookies = headers.get_all(COOKIE).iter().filter_map(|value| value.to_str().ok());
    cookies
        .flat_map(|value| value.split(';'))
        .find_map(|cookie| cookie.trim().strip_prefix(COOKIE_NAME)?.strip_prefix('='))
}

fn token_of_bearer(headers: &HeaderMap) -> Option<&str> {
    headers.get(AUTHORIZATION)?.to_str().ok()?.strip_prefix("Bearer ")
}

/// Keeps the token in the browser and goes on to the page. By a step of our own page, for a browser does not send a
/// strict cookie along when a page from elsewhere is what led here.
fn remember(token: &str) -> Response {
    const ON: &str = "<!doctype html><meta charset=\"utf-8\"><meta http-equiv=\"refresh\" content=\"0; url=/\">\
        <title>Recorder</title><a href=\"/\">Go on to the recorder</a>";
    let cookie = format!("{COOKIE_NAME}={token}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000");
    let mut response = axum::response::Html(ON).into_response();
    if let Ok(cookie) = HeaderValue::from_str(&cookie) {
        response.headers_mut().insert(axum::http::header::SET_COOKIE, cookie);
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: &str = "192.168.7.1:8377";
    const PHONE: &str = "192.168.7.20:50111";

    struct Asked<'a> {
        from: &'a str,
        to: &'a str,
        method: Method,
        uri: &'a str,
        headers: &'a [(&'static str, &'a str)],
    }

    fn asked(asked: &Asked<'_>, tokens: &Tokens) -> Result<Admitted, Refused> {
        let mut headers = HeaderMap::new();
        for (name, value) in asked.headers {
            headers.append(HeaderName::from_static(name), HeaderValue::from_str(value).unwrap());
        }
        let (from, to) = (asked.from.parse().unwrap(), asked.to.parse().unwrap());
        judge(Some(tokens), from, to, &asked.method, &asked.uri.parse().unwrap(), &headers)
    }

    fn local(method: Method, headers: &[(&'static str, &str)]) -> Result<Admitted, Refused> {
        let tokens = Tokens::random().unwrap();
        let (from, to) = ("127.0.0.1:50000", "127.0.0.1:8377");
        asked(&Asked { from, to, method, uri: "/", headers }, &tokens)
    }

    #[test]
    fn on_this_computer_all_is_open_under_our_own_names_only() {
        for host in ["127.0.0.1:8377", "localhost:8377", "LocalHost:8377", "[::ffff:127.0.0.1]:8377"] {
            assert_eq!(local(Method::GET, &[("host", host)]), Ok(Admitted::Known(Right::Control)), "{host}");
        }
        for host in [
            "evil.test",
            "evil.test:8377",
            "127.0.0.1",
            "127.0.0.1:80",
            "127.0.0.2:8377",
            "localhost.evil.test:8377",
            "localhost@evil.test:8377",
            "evil.test@127.0.0.1:8377",
            "192.168.7.1:8377",
            "",
            "[::1",
        ] {
            assert_eq!(local(Method::GET, &[("host", host)]), Err(Refused::Host), "{host}");
        }
        assert_eq!(local(Method::GET, &[]), Err(Refused::Host));
        let twice = [("host", "127.0.0.1:8377"), ("host", "evil.test")];
        assert_eq!(local(Method::GET, &twice), Err(Refused::Host));
    }

    #[test]
    fn a_page_from_elsewhere_gets_nothing() {
        let host = ("host", "127.0.0.1:8377");
        for origin in [
            "http://evil.test",
            "null",
            "https://127.0.0.1:8377",
            "http://127.0.0.1:3000",
            "http://localhost:8377",
        ] {
            for method in [Method::POST, Method::GET] {
                assert_eq!(local(method, &[host, ("origin", origin)]), Err(Refused::Origin), "{origin}");
            }
        }
        let own = [host, ("origin", "http://127.0.0.1:8377"), ("sec-fetch-site", "same-origin")];
        assert!(local(Method::POST, &own).is_ok());
        let behind = [host, ("sec-fetch-site", "cross-site"), ("sec-fetch-mode", "no-cors")];
        assert_eq!(local(Method::GET, &behind), Err(Refused::Origin));
        // Another port of this computer is of one site with us, and not ours.
        let beside = [host, ("sec-fetch-site", "same-site"), ("sec-fetch-mode", "cors")];
        assert_eq!(local(Method::POST, &beside), Err(Refused::Origin));
        let visit = [host, ("sec-fetch-site", "cross-site"), ("sec-fetch-mode", "navigate")];
        assert!(local(Method::GET, &visit).is_ok());
        assert_eq!(local(Method::POST, &visit), Err(Refused::Origin), "a form that was sent from elsewhere");
    }

    #[test]
    fn without_tokens_nobody_is_let_in_from_elsewhere() {
        let mut headers = HeaderMap::from_iter([(HOST, HeaderValue::from_static(HERE))]);
        headers.append(COOKIE, HeaderValue::from_static("hitchwright="));
        let (from, to) = (PHONE.parse().unwrap(), HERE.parse().unwrap());
        for uri in ["/", "/?token=", "/live"] {
            let judged = judge(None, from, to, &Method::GET, &uri.parse().unwrap(), &headers);
            assert_eq!(judged, Err(Refused::Token), "{uri}");
        }
    }

    #[test]
    fn from_elsewhere_only_with_a_token() {
        let tokens = Tokens::random().unwrap();
        let from_phone = |uri: &str, headers: &[(&'static str, &str)]| {
            let headers = [&[("host", HERE)], headers].concat();
            asked(&Asked { from: PHONE, to: HERE, method: Method::GET, uri, headers: &headers }, &tokens)
        };
        for uri in ["/", "/live", "/units", "/status", "/metrics", "/no-such", "/live?token=1", "/?token="] {
            assert_eq!(from_phone(uri, &[]), Err(Refused::Token), "{uri}");
            assert_eq!(from_phone(uri, &[("cookie", "hitchwright=0123")]), Err(Refused::Token), "{uri}");
        }
        let link = format!("/?token={}", tokens.look_on.text());
        assert_eq!(from_phone(&link, &[]), Ok(Admitted::ByLink(tokens.look_on.text().to_owned())));
        let elsewhere = format!("/live?token={}", tokens.look_on.text());
        assert_eq!(from_phone(&elsewhere, &[]), Err(Refused::Token), "a link leads to the page alone");
        let cookie = format!("a=b; {COOKIE_NAME}={}", tokens.look_on.text());
        assert_eq!(from_phone("/live", &[("cookie", &cookie)]), Ok(Admitted::Known(Right::LookOn)));
        let bearer = format!("Bearer {}", tokens.control.text());
        assert_eq!(
            from_phone("/metrics", &[("authorization", &bearer)]),
            Ok(Admitted::Known(Right::Control))
        );
        let rebound = [("host", "evil.test:8377"), ("cookie", cookie.as_str())];
        let asked_there =
            Asked { from: PHONE, to: HERE, method: Method::GET, uri: "/live", headers: &rebound };
        assert_eq!(asked(&asked_there, &tokens), Err(Refused::Host), "even with a token");
    }

    #[test]
    fn this_computer_is_itself_by_its_mapped_address_and_by_every_name_in_the_request() {
        let tokens = Tokens::random().unwrap();
        let ask = |from: &str, to: &str, uri: &str, host: &str| {
            asked(&Asked { from, to, method: Method::GET, uri, headers: &[("host", host)] }, &tokens)
        };
        let mapped = ("[::ffff:127.0.0.1]:50000", "[::ffff:127.0.0.1]:8377");
        let here = Ok(Admitted::Known(Right::Control));
        assert_eq!(ask(mapped.0, mapped.1, "/", "127.0.0.1:8377"), here);
        let (from, to, host) = ("127.0.0.1:50000", "127.0.0.1:8377", "127.0.0.1:8377");
        assert_eq!(ask(from, to, "http://127.0.0.1:8377/live", host), here);
        assert_eq!(
            ask(from, to, "http://evil.test:8377/live", host),
            Err(Refused::Host),
            "another in its line"
        );
        assert_eq!(ask(PHONE, HERE, "/", "localhost:8377"), Err(Refused::Host), "that is the phone itself");
    }
}
