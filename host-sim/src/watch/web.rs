//! A server that shows and never takes: GET of a few fixed names, nothing else.
//!
//! Nobody's request changes anything. A request under a foreign name is refused, so that a page elsewhere on the web cannot read
//! the answers through a name of its own that it points here (DNS rebinding), and so is one that another site's page makes.

use std::convert::Infallible;
use std::io;
use std::net::{IpAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

use http_body_util::Full;
use hyper::body::{Bytes, Incoming};
use hyper::header::{self, HeaderMap, HeaderValue};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::sync::Semaphore;

/// Most bytes of a request's head.
const HEAD_BYTES: usize = 16 << 10;
/// A head that takes longer is not waited for; nor an answer that is not taken.
const HEAD_TIME: Duration = Duration::from_secs(10);
const CONNECTION_TIME: Duration = Duration::from_secs(60);
/// Connections at once.
const CONNECTIONS: usize = 32;
/// Endings of names that no one on the public web can own: RFC 6762, RFC 8375, and the one that ICANN reserved in 2024.
const LOCAL_ENDINGS: [&str; 3] = [".local", ".home.arpa", ".internal"];

/// Pages load what stands on this server alone.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; script-src 'self'; connect-src 'self'; img-src data:; \
form-action 'none'; base-uri 'none'; frame-ancestors 'none'";

/// What a name stands for.
#[derive(Clone, Debug)]
pub struct Reply {
    /// Its media type.
    pub kind: &'static str,
    /// Its bytes.
    pub body: Vec<u8>,
}

/// What there is under a name such as `/metrics`.
pub type Names = dyn Fn(&str) -> Option<Reply> + Send + Sync;

/// Serves until the program ends.
///
/// # Errors
/// The runtime cannot be built.
pub fn serve(listener: TcpListener, names: Arc<Names>) -> io::Result<()> {
    listener.set_nonblocking(true)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .build()?;
    runtime.block_on(async {
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let free = Arc::new(Semaphore::new(CONNECTIONS));
        loop {
            let Ok(permit) = Arc::clone(&free).acquire_owned().await else {
                return Ok(());
            };
            // Out of file handles, or a connection that ended at once: the next one may do.
            let Ok((stream, _)) = listener.accept().await else {
                tokio::time::sleep(Duration::from_millis(100)).await;
                continue;
            };
            let names = Arc::clone(&names);
            tokio::spawn(async move {
                let service = service_fn(|request: Request<Incoming>| {
                    let response = answer(
                        request.method(),
                        request.uri().path(),
                        request.headers(),
                        &*names,
                    );
                    async { Ok::<_, Infallible>(response) }
                });
                let connection = http1::Builder::new()
                    .timer(TokioTimer::new())
                    .header_read_timeout(HEAD_TIME)
                    .max_buf_size(HEAD_BYTES)
                    .keep_alive(false)
                    .serve_connection(TokioIo::new(stream), service);
                // Whoever goes away early is not waited for.
                let _ = tokio::time::timeout(CONNECTION_TIME, connection).await;
                drop(permit);
            });
        }
    })
}

/// The answer to a request.
fn answer(
    method: &Method,
    path: &str,
    headers: &HeaderMap,
    names: &Names,
) -> Response<Full<Bytes>> {
    if let Err((status, why)) = check(method, headers) {
        return response(status, "text/plain; charset=utf-8", why.as_bytes().to_vec());
    }
    match names(path) {
        Some(reply) => response(StatusCode::OK, reply.kind, reply.body),
        None => response(
            StatusCode::NOT_FOUND,
            "text/plain; charset=utf-8",
            b"There is nothing under this name.\n".to_vec(),
        ),
    }
}

fn response(status: StatusCode, kind: &'static str, body: Vec<u8>) -> Response<Full<Bytes>> {
    let mut response = Response::new(Full::new(Bytes::from(body)));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_TYPE, kind),
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::CACHE_CONTROL, "no-store"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (
            header::HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if status == StatusCode::METHOD_NOT_ALLOWED {
        headers.insert(header::ALLOW, HeaderValue::from_static("GET, HEAD"));
    }
    response
}

/// Is this somebody who looks, from a page of ours or by typing the address?
fn check(method: &Method, headers: &HeaderMap) -> Result<(), (StatusCode, &'static str)> {
    if method != Method::GET && method != Method::HEAD {
        return Err((StatusCode::METHOD_NOT_ALLOWED, "Here one can only look.\n"));
    }
    let text = |name| headers.get(name).and_then(|value| value.to_str().ok());
    let host = text("host").unwrap_or_default();
    if !is_local(host) {
        return Err((
            StatusCode::MISDIRECTED_REQUEST,
            "Ask for this computer by its address, or by a name of the local network.\n",
        ));
    }
    let foreign = (StatusCode::FORBIDDEN, "Another site may not ask here.\n");
    if text("origin")
        .is_some_and(|origin| origin.split_once("://").map(|(_, from)| from) != Some(host))
    {
        return Err(foreign);
    }
    // A link on another page may be followed; what that page loads by itself may not.
    let is_link =
        text("sec-fetch-mode") == Some("navigate") && text("sec-fetch-dest") == Some("document");
    match text("sec-fetch-site") {
        None | Some("same-origin" | "none") => Ok(()),
        Some(_) if is_link => Ok(()),
        Some(_) => Err(foreign),
    }
}

/// Is a `Host` an address, or a name that only the local network gives?
fn is_local(host: &str) -> bool {
    let name = match host.strip_prefix('[') {
        Some(rest) => rest.split(']').next().unwrap_or_default(),
        None => host.split(':').next().unwrap_or_default(),
    };
    let name = name.to_ascii_lowercase();
    let is_plain = !name.is_empty()
        && name
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_');
    name.parse::<IpAddr>().is_ok()
        || is_plain
        || LOCAL_ENDINGS.iter().any(|ending| name.ends_with(ending))
}

#[cfg(test)]
#[path = "web_tests.rs"]
mod tests;
