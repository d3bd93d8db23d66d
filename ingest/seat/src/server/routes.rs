//! What can be asked for.

use super::connections::{HEAD_WITHIN, Peer, REQUEST_BYTES_MAX};
use super::counts::{Counts, one_more};
use super::feed::Feed;
use super::gate::{Gate, gate};
use super::metrics::{self, metrics};
use super::token::Right;
use super::units::SYSTEMS;
use super::wish::parse_wish;
use super::wish_rate::WishRate;
use crate::live::{Answer, Live, sentence};
use crate::page::FILES;
use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Extension, Json, Router};
use ingest::recorder::{Controls, Wish};
use std::sync::Arc;

/// What the answers are made from.
#[derive(Debug)]
pub struct Site {
    /// What is known live.
    pub live: Arc<Live>,
    /// Where wishes go.
    pub controls: Controls,
    /// Who looks on.
    pub feed: Arc<Feed>,
    /// What is counted.
    pub counts: Arc<Counts>,
    /// How many wishes are taken.
    pub wish_rate: WishRate,
}

/// All routes, behind the gate; `more` are those of others.
pub fn router(site: Arc<Site>, gate_state: Gate, more: Router) -> Router {
    let mut router = Router::new();
    for file in FILES {
        router = router.route(file.path, get(([(CONTENT_TYPE, file.content_type)], file.body)));
    }
    router
        .route("/live", get(live))
        .route("/wish", post(wish))
        .route("/units", get(Json(SYSTEMS)))
        .route("/status", get(status))
        .route("/metrics", get(metrics_text))
        .with_state(site)
        .merge(more)
        .layer(from_fn_with_state(Arc::new(gate_state), gate))
}

async fn live(
    State(site): State<Arc<Site>>,
    Extension(peer): Extension<Peer>,
    Extension(right): Extension<Right>,
) -> Response {
    site.feed.view(&peer, right)
}

async fn status(State(site): State<Arc<Site>>, Extension(right): Extension<Right>) -> Response {
    let mut snapshot = site.live.snapshot();
    snapshot.may_control = right == Right::Control;
    Json(snapshot).into_response()
}

async fn metrics_text(State(site): State<Arc<Site>>) -> Response {
    ([(CONTENT_TYPE, metrics::CONTENT_TYPE)], metrics(&site.live.snapshot(), &site.counts)).into_response()
}

async fn wish(
    State(site): State<Arc<Site>>,
    Extension(right): Extension<Right>,
    request: Request,
) -> Response {
    let refused = |status: StatusCode, why: &str| (status, sentence(why)).into_response();
    if right != Right::Control {
        return refused(StatusCode::FORBIDDEN, "this link is to look on only");
    }
    let is_json = |kind: &str| kind.split(';').next().is_some_and(|kind| kind.trim() == "application/json");
    let kind = request.headers().get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    // A form from elsewhere cannot send this kind without asking first.
    if !kind.is_some_and(is_json) {
        return refused(StatusCode::UNSUPPORTED_MEDIA_TYPE, "a wish is application/json");
    }
    let body = match body_of(request.into_body()).await {
        Ok(body) => body,
        Err(status) => return refused(status, "the wish is too long or took too long to come"),
    };
    if !site.wish_rate.has_room() {
        return refused(StatusCode::TOO_MANY_REQUESTS, "too many wishes at once: try again in a second");
    }
    let is_setting = |name: &str| site.live.plow().settings.contains_key(name);
    match parse_wish(&body, is_setting) {
        Ok(wish) => pass_on(&site, wish).await,
        Err(error) => refused(StatusCode::BAD_REQUEST, &error.to_string()),
    }
}

async fn body_of(body: Body) -> Result<axum::body::Bytes, StatusCode> {
    let read = tokio::time::timeout(HEAD_WITHIN, to_bytes(body, REQUEST_BYTES_MAX)).await;
    read.map_err(|_| StatusCode::REQUEST_TIMEOUT)?.map_err(|_| StatusCode::PAYLOAD_TOO_LARGE)
}

/// Passes a wish on, and answers when what was asked for is done or is known not to be.
async fn pass_on(site: &Site, wish: Wish) -> Response {
    let asked = match site.live.ask(&site.controls, wish) {
        Ok(asked) => asked,
        Err(why) => return (StatusCode::CONFLICT, why).into_response(),
    };
    one_more(&site.counts.wishes);
    let Some(asked) = asked else { return StatusCode::ACCEPTED.into_response() };
    match site.live.answer(&asked).await {
        Answer::Done(told) => (StatusCode::OK, told).into_response(),
        Answer::NotDone(why) => (StatusCode::CONFLICT, why).into_response(),
        Answer::NotYet(told) => (StatusCode::ACCEPTED, told).into_response(),
    }
}
