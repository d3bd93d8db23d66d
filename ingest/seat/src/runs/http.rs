//! The runs over HTTP: `/runs`, `/runs/NAME`, `/runs/NAME/FILE`, `/compare?a=SETTING&b=SETTING`, `/compare/page.pdf?...`.
//!
//! Who may ask, and how large and slow a request may be, is the server's to say.

use super::after_pass::comparison_lines;
use super::comparison::{Compared, SideRuns};
use super::file_body::FileBody;
use super::list::RunList;
use super::name::download_name;
use super::pages::Format;
use super::{RunName, Runs, RunsError};
use crate::reader_units::ReaderUnits;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Json, Router};
use serde::{Deserialize, Serialize};
use std::fs::File;
use std::sync::{Arc, LazyLock};
use tokio::sync::Semaphore;

/// How many tables go out at once; who comes too late is told to try again.
static DOWNLOADS: LazyLock<Arc<Semaphore>> = LazyLock::new(|| Arc::new(Semaphore::new(8)));

/// The routes, with all that they need.
pub fn router(runs: Runs) -> Router {
    Router::new()
        .route("/runs", get(list))
        .route("/runs/{name}", get(run))
        .route("/runs/{name}/{file}", get(file))
        .route("/compare", get(compare))
        .route("/compare/{file}", get(comparison_page))
        .with_state(runs)
}

impl IntoResponse for RunsError {
    fn into_response(self) -> Response {
        let status = match &self {
            Self::NoSuchRun | Self::NoSuchFile | Self::NoRunsOf(_) => StatusCode::NOT_FOUND,
            Self::SameSetting => StatusCode::BAD_REQUEST,
            Self::StillRecording => StatusCode::CONFLICT,
            Self::Damaged(_) | Self::Says(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::TookTooLong(_)
            | Self::TooMuch
            | Self::BrokeOff(_)
            | Self::NotUnderstood
            | Self::System(_) => StatusCode::BAD_GATEWAY,
            Self::Busy | Self::NoAnalyst | Self::GaveWay | Self::Ended => StatusCode::SERVICE_UNAVAILABLE,
        };
        (status, NO_STORE, self.to_string()).into_response()
    }
}

/// What is asked today may be answered otherwise tomorrow.
const NO_STORE: [(HeaderName, HeaderValue); 1] =
    [(header::CACHE_CONTROL, HeaderValue::from_static("no-store"))];

#[derive(Debug, Default, Deserialize)]
struct Reader {
    #[serde(default)]
    units: ReaderUnits,
}

#[derive(Debug, Deserialize)]
struct Pair {
    a: String,
    b: String,
    /// Another day than that of the newest run.
    day: Option<String>,
    #[serde(default)]
    units: ReaderUnits,
}

async fn list(State(runs): State<Runs>) -> Result<Response, RunsError> {
    let list: RunList = runs.read(|desk| desk.list()).await??;
    Ok((NO_STORE, Json(list)).into_response())
}

/// A run with its verdict, or why there is none.
#[derive(Debug, Serialize)]
struct RunAnswer {
    #[serde(flatten)]
    run: super::ListedRun,
    /// The verdict in large letters; `null` where there is none.
    headline: Option<String>,
    look: Option<String>,
    lines: Vec<String>,
    /// Why there is no verdict.
    why: Option<String>,
}

async fn run(
    State(runs): State<Runs>,
    Path(name): Path<String>,
    Query(Reader { units }): Query<Reader>,
) -> Result<Response, RunsError> {
    let name = RunName::parse(&name).ok_or(RunsError::NoSuchRun)?;
    let of = name.clone();
    let (run, known) =
        runs.read(move |desk| desk.run(&of).map(|run| (run, desk.known_verdict(&of)))).await??;
    let told = match known {
        Some(known) => known,
        None if run.usable => runs.ask(move |desk, stop| desk.verdict(&name, stop)).await,
        None => Err(RunsError::Damaged(run.trouble.clone().unwrap_or_default())),
    };
    let mut answer = RunAnswer { run, headline: None, look: None, lines: Vec::new(), why: None };
    match told {
        Ok(told) => {
            let brief = told.of(units).clone();
            (answer.headline, answer.look, answer.lines) = (Some(brief.headline), brief.look, brief.lines);
        }
        // To try again helps with these; what else there is of the run is told all the same.
        Err(error @ (RunsError::Busy | RunsError::GaveWay | RunsError::Ended)) => return Err(error),
        Err(error) => answer.why = Some(error.to_string()),
    }
    Ok((NO_STORE, Json(answer)).into_response())
}

async fn file(
    State(runs): State<Runs>,
    Path((name, file)): Path<(String, String)>,
    Query(Reader { units }): Query<Reader>,
) -> Result<Response, RunsError> {
    let name = RunName::parse(&name).ok_or(RunsError::NoSuchRun)?;
    if let Some(format) = Format::of_file(&file) {
        let download = name.download(&file);
        let page = runs.ask(move |desk, stop| desk.run_page(&name, (format, units), stop)).await?;
        return Ok(page_response(page, format, &download));
    }
    let permit = DOWNLOADS.clone().try_acquire_owned().map_err(|_| RunsError::Busy)?;
    let download = name.download(&file);
    let (table, bytes) = runs.read(move |desk| table(desk, &name, &file)).await??;
    let headers = [
        (header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (header::CONTENT_LENGTH, bytes.to_string()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{download}\"")),
    ];
    Ok((NO_STORE, headers, FileBody::of(table, bytes, permit)).into_response())
}

/// A table of a run, and how many bytes of it are whole lines. Only what the run's description names is one.
fn table(desk: &super::desk::Desk, name: &RunName, file: &str) -> Result<(File, u64), RunsError> {
    let run = desk.run(name)?;
    let is_table = file.ends_with(".csv") && run.files.iter().any(|known| known == file);
    if !is_table {
        return Err(RunsError::NoSuchFile);
    }
    let path = name.folder_in(&desk.out).join(file);
    ingest::open_run::whole_part(&path)
        .and_then(|whole| Ok((File::open(&path)?, whole.whole_bytes)))
        .map_err(|_| RunsError::NoSuchFile)
}

/// A comparison with the runs that take part in it.
#[derive(Debug, Serialize)]
struct ComparisonAnswer {
    headline: String,
    /// The answer, what carries it and what must be known, a sentence each.
    lines: Vec<String>,
    plow: String,
    day: String,
    a: SideRuns,
    b: SideRuns,
}

async fn compare(
    State(runs): State<Runs>,
    Query(Pair { a, b, day, units }): Query<Pair>,
) -> Result<Response, RunsError> {
    let compared = runs.ask(move |desk, stop| desk.compare((&a, &b), day.as_deref(), stop)).await?;
    let Compared { plow, day, a, b, told } = compared;
    let brief = told.of(units);
    let (headline, lines) = (brief.headline.clone(), comparison_lines(brief));
    Ok((NO_STORE, Json(ComparisonAnswer { headline, lines, plow, day, a, b })).into_response())
}

async fn comparison_page(
    State(runs): State<Runs>,
    Path(file): Path<String>,
    Query(Pair { a, b, day, units }): Query<Pair>,
) -> Result<Response, RunsError> {
    let format = Format::of_file(&file).ok_or(RunsError::NoSuchFile)?;
    let download = download_name(&format!("{a}_{b}.{}", format.ending()));
    let page = runs
        .ask(move |desk, stop| desk.comparison_page((&a, &b), day.as_deref(), (format, units), stop))
        .await?;
    Ok(page_response(page, format, &download))
}

fn page_response(page: Vec<u8>, format: Format, download: &str) -> Response {
    let headers = [
        (header::CONTENT_TYPE, format.media_type().to_owned()),
        (header::CONTENT_DISPOSITION, format!("inline; filename=\"{download}\"")),
    ];
    (NO_STORE, headers, page).into_response()
}
