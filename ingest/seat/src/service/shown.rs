//! What is shown of the service: what is known live, the page that is served, and the status file, all of one plow
//! description.

use super::config::{LiveConfig, ServiceConfig, StartedBy};
use super::kept_choice;
use super::token_file::{token_file_of, tokens_of};
use super::troubles::{TroubleKind, Troubles};
use crate::live::{self, Choice, Live, LiveView, StatusKeeper, Views, keep_status};
use crate::live_balance::LiveBalance;
use crate::runs::{Runs, router};
use crate::server::{Server, tokens_at};
use axum::Router;
use ingest::engine_off_and_blocked;
use ingest::plow::Plow;
use ingest::quantity::units_of_reader;
use ingest::recorder::{Controls, PassChoice, View};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// An address that cannot be had now, as before the network is up, is tried again this often.
const TRY_AGAIN: Duration = Duration::from_secs(5);

/// What is shown while one plow description holds.
pub struct Shown {
    live: Arc<Live>,
    /// Takes what the recorder shows.
    pub view: Views,
    /// What the page hands out of the runs; none without a page.
    runs: Option<Runs>,
    page: Option<LiveConfig>,
    token_file: PathBuf,
    status: Option<StatusKeeper>,
    server: Option<Server>,
    tried: Option<Instant>,
}

impl Shown {
    /// Of this plow. What was chosen for the next pass before is kept, where the plow has that setting.
    pub fn of(config: &ServiceConfig, plow: Plow, before: Option<Self>, troubles: &Troubles) -> Self {
        let said = Choice {
            setting: Some(config.setting_name.clone()),
            share: config.share,
            field: config.field.clone(),
            ..Choice::default()
        };
        let is_there =
            |choice: &Choice| choice.setting.as_ref().is_some_and(|name| plow.settings.contains_key(name));
        let before = before.map(|before| before.live.snapshot());
        let is_confirmed =
            before.as_ref().is_some_and(|before| is_there(&before.choice) && !before.choice.assumed);
        let chosen = match before {
            Some(before) => Some(before.choice),
            None => kept_choice::read(&kept_choice::file_of(config)).unwrap_or_else(|why| {
                tracing::warn!(text = why, "what was chosen for the next run is not known");
                None
            }),
        };
        let choice = Choice { assumed: !is_confirmed, ..chosen.filter(is_there).unwrap_or(said) };
        let name = choice.setting.clone().unwrap_or_default();
        tracing::info!(setting = name.as_str(), confirmed = is_confirmed, "next run");
        let asked = config.live.as_ref().and_then(|page| page.units).map(Into::into);
        let units = units_of_reader(asked, plow.units).unwrap_or_else(|why| {
            tracing::warn!(text = why, "the units are those of the plow description");
            plow.units
        });
        for doubt in plow.doubts() {
            tracing::warn!(text = doubt, "plow description");
        }
        let units = units.unwrap_or_default().into();
        let live = Arc::new(Live::new(plow, &config.ports, choice).shown_in(units));
        // Somebody may have moved the hitch while the recorder was off.
        if !is_confirmed && config.live.is_some() && config.started_by == StartedBy::Plow {
            let question = format!(
                "Is the hitch in \"{name}\"? Nobody has said so since the recorder was started. {}",
                engine_off_and_blocked!("look at the pins, then say yes or choose.")
            );
            live.set_trouble(live::TroubleKind::Unconfirmed, Some(question));
        }
        let in_runtime_folder =
            || std::env::var_os("RUNTIME_DIRECTORY").map(|folder| PathBuf::from(folder).join("status.json"));
        let status_file = config.status_file.clone().or_else(in_runtime_folder);
        let status = keep_status(&live, config.runs.clone(), status_file.clone());
        match &status {
            Ok(_) => troubles.clear(TroubleKind::Status),
            Err(error) => {
                let file = status_file.unwrap_or_default();
                troubles.set(
                    TroubleKind::Status,
                    &format!("the status file {} cannot be written: {error}", file.display()),
                );
            }
        }
        let page = config.live.clone();
        let token_file = token_file_of(config);
        let mut view = Views::default().and(LiveView::new(Arc::clone(&live)));
        match LiveBalance::beside(&live) {
            Ok(balance) => view = view.and(balance),
            Err(error) => tracing::warn!(%error, "the balance of the last seconds is not shown"),
        }
        let runs = page.as_ref().and_then(|_| {
            let runs = Runs::shown_on(&live, config.runs.clone());
            runs.inspect_err(|error| tracing::warn!(%error, "runs are not handed out")).ok()
        });
        if let Some(runs) = &runs {
            view = view.and(runs.view());
            runs.notice().iter().for_each(|notice| view.notice(notice));
        }
        Self { live, view, runs, page, token_file, status: status.ok(), server: None, tried: None }
    }

    /// That the disk is nearly full, if it is, in one sentence.
    pub fn disk_nearly_full(&self) -> Option<String> {
        self.live.trouble(live::TroubleKind::DiskNearlyFull)
    }

    /// The recorder ends properly.
    pub fn recorder_ends(&mut self) {
        self.status.take().into_iter().for_each(StatusKeeper::recorder_ends);
    }

    /// What was chosen for the next pass.
    pub fn chosen(&self) -> PassChoice {
        self.live.snapshot().choice.into()
    }

    /// Somebody chooses while no recorder is there to take it.
    pub fn choose(&mut self, said: &PassChoice) {
        let next = self.chosen().with(said);
        self.view.chosen(&next, true);
    }

    /// Looks whether the page is served, if it is to be, and shows what else is wrong.
    pub fn tick(&mut self, controls: &Controls, troubles: &Troubles) {
        // A port that is waited for is a trouble of the recording as well.
        let others = troubles.now().into_iter().map(|(_, sentence)| sentence);
        let sentences: Vec<String> = others.filter(|sentence| !self.live.tells(sentence)).collect();
        let all = (!sentences.is_empty()).then(|| sentences.join("; "));
        self.live.set_trouble(live::TroubleKind::Service, all);
        if self.server.is_some() || self.tried.is_some_and(|tried| tried.elapsed() < TRY_AGAIN) {
            return;
        }
        let Some(page) = &self.page else { return };
        self.tried = Some(Instant::now());
        match self.serve(page, controls) {
            Ok(server) => {
                tracing::info!(address = %server.address(), "page served");
                self.server = Some(server);
                troubles.clear(TroubleKind::Page);
            }
            Err(why) => troubles.set(TroubleKind::Page, &why),
        }
    }

    fn serve(&self, page: &LiveConfig, controls: &Controls) -> Result<Server, String> {
        let tokens =
            tokens_at(page.address, || tokens_of(&self.token_file)).map_err(|error| error.to_string())?;
        let routes = self.runs.clone().map_or_else(Router::new, router);
        Server::start(page.address, tokens, Arc::clone(&self.live), controls.clone(), routes)
            .map_err(|error| error.to_string())
    }
}
