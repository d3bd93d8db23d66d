//! The task of one port: opens it, reads, pings, and opens it again when it has gone.

use super::{Link, OpenPort, Ports};
use crate::session::Session;
use crate::wire_file::WireEvent;
use firmware_protocol::{Form, Frame, encode, sentences};
use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::sync::mpsc;
use tokio::time::Instant;

/// Waits between tries to open a port again: from the first to the last, doubling.
const REOPEN_FIRST: Duration = Duration::from_millis(20);
const REOPEN_LAST: Duration = Duration::from_millis(500);
/// A box that does not take a command of a few bytes in this time is gone.
const WRITE_PATIENCE: Duration = Duration::from_millis(500);
/// How long a last look at a silent port takes: what waits in it is there as soon as the system has been asked, and where the
/// whole program was held up nobody has asked yet.
const LAST_LOOK: Duration = Duration::from_millis(20);
/// Bytes that one read may bring.
pub(crate) const READ_BYTES: usize = 16 * 1024;

/// What a port's task has to say: that the port was opened or has gone, that bytes came, or that a ping is about to
/// go out.
#[derive(Clone, Debug)]
pub struct PortMessage {
    /// Number of the port, from 0.
    pub number: usize,
    pub at: Instant,
    pub what: WireEvent,
}

/// What a port's task is told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ToPort {
    /// Tell the box to start, now and after each opening from now on.
    Start,
    /// Tell the box to stop.
    Stop,
    /// Ping a few times quickly.
    PingBurst,
    /// Close the port and open it again, for this reason.
    Reopen(String),
    /// The same because it is silent: if something waits in it by now, that is read instead.
    ReopenSilent(String),
}

struct Reporter {
    number: usize,
    out: mpsc::Sender<PortMessage>,
}

impl Reporter {
    /// Whether somebody still listens.
    async fn say(&self, what: WireEvent) -> bool {
        self.out.send(PortMessage { number: self.number, at: Instant::now(), what }).await.is_ok()
    }
}

/// A port to be served.
#[derive(Clone, Debug)]
pub struct Served {
    /// Its number in the messages, from 0.
    pub number: usize,
    pub port: PathBuf,
    pub baud: u32,
    /// Its name is held already; else it is as soon as the port is there, before it is opened.
    pub is_claimed: bool,
    /// The conversation with the box behind it; `None` for a device to which nothing is ever written.
    pub session: Option<Session>,
}

/// Serves a port, which may be open already, until nobody listens any more. A port that is only listened to
/// takes no order but to be opened again.
pub async fn serve(
    ports: Arc<dyn Ports>,
    served: Served,
    mut open: Option<OpenPort>,
    out: mpsc::Sender<PortMessage>,
    mut orders: mpsc::Receiver<ToPort>,
) {
    let Served { number, port, baud, is_claimed, mut session } = served;
    let mut lock = None;
    let reporter = Reporter { number, out };
    let mut patience = REOPEN_FIRST;
    loop {
        let mut try_open = || {
            if !is_claimed && lock.is_none() {
                lock = ports.claim(&port)?;
            }
            ports.open(&port, baud)
        };
        let Some(opened) = open.take().or_else(|| try_open().ok()) else {
            tokio::select! {
                biased;
                () = tokio::time::sleep(patience) => {}
                order = orders.recv() => match order {
                    Some(order) => obey(&order, session.as_mut()),
                    None => return,
                },
            }
            patience = (patience * 2).min(REOPEN_LAST);
            continue;
        };
        patience = REOPEN_FIRST;
        if let Some(session) = &mut session {
            session.opened(Instant::now());
        }
        if !reporter.say(WireEvent::PortOpened(port.display().to_string())).await {
            return;
        }
        // The port is dropped before it is said to be gone: a handle that is held makes a device come
        // back under another name.
        let mut link = opened;
        let end = while_open(&mut *link.link, session.as_mut(), &reporter, &mut orders).await;
        drop(link);
        let Some(why) = end else { return };
        if !reporter.say(WireEvent::PortGone(why)).await {
            return;
        }
        tokio::time::sleep(REOPEN_FIRST).await;
    }
}

/// What an order changes in the conversation; nothing where nothing is ever written.
fn obey(order: &ToPort, session: Option<&mut Session>) {
    match (order, session) {
        (ToPort::Start, Some(session)) => session.start(Instant::now()),
        (ToPort::Stop, Some(session)) => session.stop(),
        (ToPort::PingBurst, Some(session)) => session.ping_burst(Instant::now()),
        (ToPort::Reopen(_) | ToPort::ReopenSilent(_), _) | (_, None) => {}
    }
}

/// Serves an open port; returns why it is gone, or `None` when nobody listens any more.
async fn while_open(
    link: &mut dyn Link,
    mut session: Option<&mut Session>,
    reporter: &Reporter,
    orders: &mut mpsc::Receiver<ToPort>,
) -> Option<String> {
    let mut buffer = vec![0; READ_BYTES];
    loop {
        while let Some(session) = &mut session
            && let Some(frame) = session.say(Instant::now())
        {
            // Said before it is sent, so that its time is not after the box's.
            if let Frame::Ping { token } = frame
                && !reporter.say(WireEvent::PingSent { token }).await
            {
                return None;
            }
            if let Err(why) = send(link, &frame, session.form()).await {
                return Some(why);
            }
        }
        let due = session.as_ref().and_then(|session| session.due());
        let until_due = due.map_or(Duration::MAX, |due| due.saturating_duration_since(Instant::now()));
        let read = tokio::select! {
            biased;
            order = orders.recv() => match order? {
                ToPort::Reopen(why) => return Some(why),
                // Where it spoke while the order was on its way, to close it would lose that.
                ToPort::ReopenSilent(why) => match waiting(link, &mut buffer).await {
                    Some(read) => read,
                    None => return Some(why),
                },
                order => {
                    obey(&order, session.as_deref_mut());
                    continue;
                }
            },
            read = link.read(&mut buffer) => read,
            () = tokio::time::sleep(until_due), if due.is_some() => continue,
        };
        match read {
            // 0 bytes never means "nothing yet": asking again would spin for ever.
            Ok(0) => return Some("hung up".to_owned()),
            Ok(length) => {
                let bytes: Vec<u8> = buffer.iter().take(length).copied().collect();
                if let Some(session) = &mut session {
                    let (mut rest, now) = (&bytes[..], Instant::now());
                    while session.hear(&mut rest, now).is_some() {}
                }
                if !reporter.say(WireEvent::Received(bytes)).await {
                    return None;
                }
            }
            Err(error) => return Some(error.to_string()),
        }
    }
}

/// What a last look gives.
async fn waiting(link: &mut dyn Link, buffer: &mut [u8]) -> Option<io::Result<usize>> {
    tokio::time::timeout(LAST_LOOK, link.read(buffer)).await.ok()
}

/// Commands may be sent twice without harm, so one that went out in part only is no danger. Before
/// anything has shown its form the box is spoken to in frames, which one that prints has to ignore.
pub(crate) async fn send(link: &mut dyn Link, frame: &Frame, form: Option<Form>) -> Result<(), String> {
    let bytes: Vec<u8> = match form {
        Some(Form::Text) => sentences(frame).flat_map(|sentence| sentence.as_bytes().to_vec()).collect(),
        Some(Form::Binary) | None => encode(frame).as_bytes().to_vec(),
    };
    match tokio::time::timeout(WRITE_PATIENCE, link.write_all(&bytes)).await {
        Ok(written) => written.map_err(|error| error.to_string()),
        Err(_) => Err("the box takes no commands".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::{PortError, PortLock};
    use super::*;
    use crate::session::StartUnasked;
    use std::path::Path;
    use std::sync::Mutex;
    use tokio::io::{DuplexStream, duplex};

    /// A cable that is put in again and again: each opening gives the next stream, as long as there is one.
    #[derive(Default)]
    struct Cable(Mutex<Vec<DuplexStream>>);

    impl Ports for Cable {
        fn claim(&self, _: &Path) -> Result<Option<PortLock>, PortError> {
            Ok(None)
        }
        fn open(&self, port: &Path, _: u32) -> Result<OpenPort, PortError> {
            let mut streams = self.0.lock().unwrap();
            if streams.is_empty() {
                return Err(PortError::Other { port: port.to_owned(), cause: "unplugged".to_owned() });
            }
            Ok(OpenPort::unlocked(Box::new(streams.remove(0))))
        }
    }

    struct Rig {
        cable: Arc<Cable>,
        /// The box's end of each opening.
        far: Vec<DuplexStream>,
        said: mpsc::Receiver<PortMessage>,
        orders: mpsc::Sender<ToPort>,
        task: tokio::task::JoinHandle<()>,
    }

    /// A port that another recorder has held by its name for the first so many times that it is asked for.
    struct Held(Cable, Mutex<u32>);

    impl Ports for Held {
        fn claim(&self, port: &Path) -> Result<Option<PortLock>, PortError> {
            let mut times = self.1.lock().unwrap();
            let busy = || PortError::Busy { port: port.to_owned(), holder: "another".to_owned() };
            if *times > 0 {
                *times -= 1;
                return Err(busy());
            }
            Ok(None)
        }
        fn open(&self, port: &Path, baud: u32) -> Result<OpenPort, PortError> {
            assert_eq!(*self.1.lock().unwrap(), 0, "opened while another has it");
            self.0.open(port, baud)
        }
    }

    /// A port that can be opened so many times and holds so many bytes on its way to the box.
    fn rig(openings: usize, room: usize, pings: bool) -> Rig {
        let (near, far): (Vec<_>, Vec<_>) = (0..openings).map(|_| duplex(room)).unzip();
        let (out, said) = mpsc::channel(64);
        let (orders, taken) = mpsc::channel(8);
        let session = if pings { Session::with_pings } else { Session::new };
        let session = Some(session(StartUnasked::Always, Instant::now()));
        let served =
            Served { number: 0, port: PathBuf::from("port"), baud: 9600, is_claimed: false, session };
        let cable = Arc::new(Cable(Mutex::new(near)));
        let task = tokio::spawn(serve(Arc::clone(&cable) as Arc<dyn Ports>, served, None, out, taken));
        Rig { cable, far, said, orders, task }
    }

    async fn next(rig: &mut Rig) -> WireEvent {
        rig.said.recv().await.unwrap().what
    }

    /// Ends by itself when nobody listens any more, wherever it is then.
    async fn ends(rig: Rig) {
        let Rig { far, said, orders, task, .. } = rig;
        drop(said);
        tokio::time::timeout(Duration::from_secs(5), task).await.unwrap().unwrap();
        drop((far, orders));
    }

    #[tokio::test(start_paused = true)]
    async fn a_port_that_nobody_listens_to_any_more_is_let_go() {
        // Before it was opened, ...
        ends(rig(1, 1024, false)).await;
        // ... before a ping, ...
        let mut pinging = rig(1, 1024, true);
        assert_eq!(next(&mut pinging).await, WireEvent::PortOpened("port".to_owned()));
        ends(pinging).await;
        // ... when bytes come, ...
        let mut heard = rig(1, 1024, false);
        let _ = next(&mut heard).await;
        heard.far[0].write_all(b"x").await.unwrap();
        ends(heard).await;
        // ... when it has gone, ...
        let mut gone = rig(1, 1024, false);
        let _ = next(&mut gone).await;
        gone.far.clear();
        ends(gone).await;
        // ... and while it cannot be opened.
        let mut away = rig(1, 1024, false);
        let _ = next(&mut away).await;
        away.far.clear();
        assert_eq!(next(&mut away).await, WireEvent::PortGone("hung up".to_owned()));
        let Rig { said: _said, orders, task, .. } = away;
        drop(orders);
        tokio::time::timeout(Duration::from_secs(5), task).await.unwrap().unwrap();
    }

    /// Found: what a silent device said just as its port was to be opened anew was lost with the old opening.
    #[tokio::test(start_paused = true)]
    async fn a_port_that_speaks_again_is_read_and_not_opened_anew() {
        let mut rig = rig(2, 1024, false);
        assert_eq!(next(&mut rig).await, WireEvent::PortOpened("port".to_owned()));
        rig.far[0].write_all(b"x").await.unwrap();
        rig.orders.send(ToPort::ReopenSilent("silent for 5.0 s".to_owned())).await.unwrap();
        assert_eq!(next(&mut rig).await, WireEvent::Received(b"x".to_vec()));
        rig.orders.send(ToPort::ReopenSilent("silent for 5.0 s".to_owned())).await.unwrap();
        assert_eq!(next(&mut rig).await, WireEvent::PortGone("silent for 5.0 s".to_owned()));
        assert_eq!(next(&mut rig).await, WireEvent::PortOpened("port".to_owned()));
    }

    /// A line towards the box that takes nothing: said to be gone in half a second, and opened again.
    #[tokio::test(start_paused = true)]
    async fn a_box_that_takes_no_commands_is_gone_and_opened_again() {
        let mut rig = rig(2, 3, false);
        let began = Instant::now();
        rig.orders.send(ToPort::Start).await.unwrap();
        assert_eq!(next(&mut rig).await, WireEvent::PortOpened("port".to_owned()));
        assert_eq!(next(&mut rig).await, WireEvent::PortGone("the box takes no commands".to_owned()));
        assert!((500..600).contains(&began.elapsed().as_millis()), "{:?}", began.elapsed());
        assert_eq!(next(&mut rig).await, WireEvent::PortOpened("port".to_owned()));
        // The second time it takes them: the start is among them.
        let mut far = rig.far.remove(1);
        let mut bytes = vec![0; encode(&Frame::Start).as_bytes().len()];
        far.read_exact(&mut bytes).await.unwrap();
        assert_eq!(bytes, encode(&Frame::Start).as_bytes());
    }

    /// Bytes of a port go to one reader: what another recorder reads must not be taken from it.
    #[tokio::test(start_paused = true)]
    async fn a_port_that_another_has_is_not_opened_before_it_is_free() {
        let (near, _far) = duplex(64);
        let ports = Arc::new(Held(Cable(Mutex::new(vec![near])), Mutex::new(3)));
        let (out, mut said) = mpsc::channel(4);
        let (_orders, taken) = mpsc::channel(4);
        let port = PathBuf::from("port");
        let served = Served { number: 0, port, baud: 9600, is_claimed: false, session: None };
        let _task = tokio::spawn(serve(Arc::clone(&ports) as Arc<dyn Ports>, served, None, out, taken));
        let opened = tokio::time::timeout(Duration::from_secs(5), said.recv()).await.unwrap().unwrap();
        assert_eq!(opened.what, WireEvent::PortOpened("port".to_owned()));
        assert_eq!(*ports.1.lock().unwrap(), 0);
    }

    /// What is ordered while the port is away is done when it is back. Found: a box that prints unasked went on, as
    /// nobody told it to stop.
    #[tokio::test(start_paused = true)]
    async fn a_stop_while_the_port_is_away_holds_when_it_is_back() {
        let mut rig = rig(1, 1024, false);
        rig.orders.send(ToPort::Start).await.unwrap();
        let _ = next(&mut rig).await;
        rig.orders.send(ToPort::Reopen("settings".to_owned())).await.unwrap();
        assert_eq!(next(&mut rig).await, WireEvent::PortGone("settings".to_owned()));
        rig.orders.send(ToPort::Stop).await.unwrap();
        rig.orders.send(ToPort::PingBurst).await.unwrap();
        tokio::time::sleep(Duration::from_secs(3)).await;
        assert!(rig.said.try_recv().is_err(), "nothing can be opened");
        let (near, mut far) = duplex(1024);
        rig.cable.0.lock().unwrap().push(near);
        assert_eq!(next(&mut rig).await, WireEvent::PortOpened("port".to_owned()));
        let stop = encode(&Frame::Stop);
        let mut bytes = vec![0; stop.as_bytes().len()];
        let told = tokio::time::timeout(Duration::from_secs(3), far.read_exact(&mut bytes)).await;
        assert_eq!((told.unwrap().unwrap(), &bytes[..]), (bytes.len(), stop.as_bytes()));
        let read = tokio::time::timeout(Duration::from_secs(3), far.read(&mut bytes)).await;
        assert!(read.is_err(), "it was told more: {bytes:?}");
        let Rig { orders, task, said: _said, .. } = rig;
        drop(orders);
        tokio::time::timeout(Duration::from_secs(5), task).await.unwrap().unwrap();
    }
}
