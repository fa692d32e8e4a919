//! The server: a thread of its own, so that whatever phones and strangers do, the runtime that
//! records never waits for them. One request a connection, each under limits of size and time.

use super::phones;
use super::route::answer;
use super::shared::{Asked, Progress, Shared};
use crate::cli::{Exit, Failure};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use std::net::SocketAddr;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::net::{TcpListener, TcpSocket, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::{sleep, timeout};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// Connections at once: those of the phones, and as many that ask for something else.
const CONNECTIONS: usize = 4 * phones::MOST;
/// Connections that wait to be taken.
const WAITING: u32 = 256;
/// Bytes that the system holds for a reader that is slow: a few pictures, so that what it reads
/// next is new.
const HELD: u32 = 16 * 1024;
/// Bytes and lines of a request's head.
const HEAD: usize = 16 * 1024;
const LINES: usize = 64;
/// Longest wait for a request's head.
const HEAD_WITHIN: Duration = Duration::from_secs(5);
/// How long the last words may take.
const LAST_WORDS: Duration = Duration::from_millis(300);
/// After a failure to take a connection (none are left of the system's): a pause.
const NONE_LEFT: Duration = Duration::from_millis(100);

/// Told to those for whom there is no connection left.
const FULL: &[u8] =
    b"HTTP/1.1 429 Too Many Requests\r\nConnection: close\r\nContent-Length: 0\r\n\r\n";

/// The server's thread.
pub(super) struct Server {
    pub(super) address: SocketAddr,
    ended: CancellationToken,
    thread: Option<JoinHandle<()>>,
}

impl Server {
    /// Listens at this address from now on.
    pub(super) fn start(at: SocketAddr, shared: Arc<Shared>) -> Result<Self, Failure> {
        let failed = |error: std::io::Error| {
            Failure::new(Exit::Failed, format!("cannot share the gauge: {error}"))
                .at(at)
                .remedy("name an address that this computer has, and a port that is free")
        };
        let ended = shared.ended.clone();
        let (tell, told) = std::sync::mpsc::sync_channel(1);
        let thread = std::thread::Builder::new()
            .name("share".to_owned())
            .spawn(move || run(at, &shared, &tell))
            .map_err(failed)?;
        let address = told
            .recv()
            .unwrap_or_else(|_| Err(std::io::Error::other("the server's thread has ended")))
            .map_err(failed)?;
        Ok(Self {
            address,
            ended,
            thread: Some(thread),
        })
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.ended.cancel();
        if let Some(thread) = self.thread.take() {
            // A panic there was told already, and nothing depends on it.
            let _ = thread.join();
        }
    }
}

type Listening = std::io::Result<SocketAddr>;

fn run(at: SocketAddr, shared: &Arc<Shared>, tell: &std::sync::mpsc::SyncSender<Listening>) {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build();
    let runtime = match runtime {
        Ok(runtime) => runtime,
        Err(error) => {
            // Whoever started this waits for it.
            let _ = tell.send(Err(error));
            return;
        }
    };
    runtime.block_on(async {
        let listener = listen(at);
        let address = listener
            .as_ref()
            .map_err(copy)
            .and_then(TcpListener::local_addr);
        // As above.
        let _ = tell.send(address);
        if let Ok(listener) = listener {
            serve(&listener, shared).await;
        }
    });
}

/// The same error once more.
fn copy(error: &std::io::Error) -> std::io::Error {
    std::io::Error::new(error.kind(), error.to_string())
}

fn listen(at: SocketAddr) -> std::io::Result<TcpListener> {
    let socket = match at {
        SocketAddr::V4(_) => TcpSocket::new_v4()?,
        SocketAddr::V6(_) => TcpSocket::new_v6()?,
    };
    // The connections taken from it have the same.
    socket.set_send_buffer_size(HELD)?;
    socket.bind(at)?;
    socket.listen(WAITING)
}

/// Until the end is told; then those that are still connected hear so.
async fn serve(listener: &TcpListener, shared: &Arc<Shared>) {
    let room = Arc::new(Semaphore::new(CONNECTIONS));
    let tasks = TaskTracker::new();
    loop {
        let taken = tokio::select! {
            () = shared.ended.cancelled() => break,
            taken = listener.accept() => taken,
        };
        let Ok((stream, _)) = taken else {
            sleep(NONE_LEFT).await;
            continue;
        };
        match room.clone().try_acquire_owned() {
            Ok(place) => {
                tasks.spawn(connection(stream, shared.clone(), place));
            }
            Err(_) => {
                // Whoever cannot be told is let go all the same.
                let _ = stream.try_write(FULL);
            }
        }
    }
    tasks.close();
    // Who has not heard it by then sees that the connection is gone.
    let _ = timeout(LAST_WORDS, tasks.wait()).await;
}

async fn connection(stream: TcpStream, shared: Arc<Shared>, place: OwnedSemaphorePermit) {
    // Pictures are small, and late ones are worth nothing.
    let _ = stream.set_nodelay(true);
    let asked = Asked {
        shared,
        progress: Progress::default(),
    };
    let served = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_WITHIN)
        .max_buf_size(HEAD)
        .max_headers(LINES)
        .keep_alive(false)
        .half_close(false)
        .serve_connection(
            TokioIo::new(stream),
            service_fn(|request| answer(&asked, request)),
        );
    tokio::select! {
        // However it ends, the connection is over.
        _ = served => {}
        () = asked.progress.stuck() => {}
    }
    drop(place);
}
