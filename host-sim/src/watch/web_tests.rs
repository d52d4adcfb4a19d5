use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::time::Instant;

use super::*;

/// A server with one name.
fn server() -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let at = listener.local_addr().expect("an address");
    let names = |path: &str| {
        (path == "/here").then(|| Reply {
            kind: "text/plain; charset=utf-8",
            body: b"seen".to_vec(),
        })
    };
    std::thread::spawn(move || serve(listener, Arc::new(names)));
    at
}

fn ask_raw(at: SocketAddr, request: &str) -> String {
    let mut stream = TcpStream::connect(at).expect("a connection");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("an answer");
    answer
}

fn status(answer: &str) -> u16 {
    let status = answer.split(' ').nth(1).unwrap_or_default();
    status.parse().unwrap_or(0)
}

/// The status of the answer to a request line and headers.
fn ask(at: SocketAddr, line: &str, headers: &str) -> u16 {
    status(&ask_raw(at, &format!("{line} HTTP/1.1\r\n{headers}\r\n")))
}

#[test]
fn what_is_there_is_shown_and_nothing_else() {
    let at = server();
    let host = format!("Host: {at}\r\n");
    let answer = ask_raw(at, &format!("GET /here HTTP/1.1\r\n{host}\r\n"));
    assert!(
        answer.starts_with("HTTP/1.1 200 ") && answer.ends_with("\r\n\r\nseen"),
        "{answer}"
    );
    for header in [
        "cache-control: no-store",
        "x-content-type-options: nosniff",
        "cross-origin-resource-policy: same-origin",
        "content-security-policy: default-src 'none'",
    ] {
        assert!(answer.contains(header), "{header} is not in {answer}");
    }
    assert!(!answer.contains("access-control"), "{answer}");
    assert_eq!(ask(at, "GET /here?from=a", &host), 200);
    let head = ask_raw(at, &format!("HEAD /here HTTP/1.1\r\n{host}\r\n"));
    assert!(
        head.starts_with("HTTP/1.1 200 ") && head.ends_with("\r\n\r\n"),
        "{head}"
    );
    for path in [
        "/",
        "/here/",
        "/../here",
        "/%2e%2e/here",
        "/etc/passwd",
        "//here",
    ] {
        assert_eq!(ask(at, &format!("GET {path}"), &host), 404, "{path}");
    }
}

#[test]
fn nothing_can_be_changed() {
    let at = server();
    for method in ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"] {
        let line = format!("{method} /here");
        let headers = format!("Host: {at}\r\nContent-Length: 0\r\n");
        assert_eq!(ask(at, &line, &headers), 405, "{method}");
    }
}

#[test]
fn foreign_names_and_sites_are_refused() {
    let at = server();
    let line = "GET /here";
    for host in [
        "127.0.0.1",
        "localhost:8080",
        "[::1]:8080",
        "house",
        "house.local",
        "HOUSE.home.arpa:80",
        "10.0.0.4",
    ] {
        assert_eq!(ask(at, line, &format!("Host: {host}\r\n")), 200, "{host}");
    }
    for host in [
        "example.org",
        "127.0.0.1.example.org",
        "house.local.example.org",
        "",
        "[::1.example.org",
    ] {
        assert_eq!(ask(at, line, &format!("Host: {host}\r\n")), 421, "{host}");
    }
    assert_eq!(ask(at, line, ""), 421);
    let own = format!("Host: {at}\r\n");
    for (headers, expected) in [
        (format!("Origin: http://{at}\r\n"), 200),
        ("Origin: https://example.org\r\n".to_owned(), 403),
        ("Origin: null\r\n".to_owned(), 403),
        ("Sec-Fetch-Site: same-origin\r\n".to_owned(), 200),
        ("Sec-Fetch-Site: none\r\n".to_owned(), 200),
        ("Sec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: no-cors\r\nSec-Fetch-Dest: image\r\n".to_owned(), 403),
        ("Sec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: navigate\r\nSec-Fetch-Dest: iframe\r\n".to_owned(), 403),
        ("Sec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: navigate\r\nSec-Fetch-Dest: document\r\n".to_owned(), 200),
    ] {
        assert_eq!(ask(at, line, &format!("{own}{headers}")), expected, "{headers}");
    }
}

#[test]
fn long_heads_and_slow_clients_do_not_keep_it_from_others() {
    let at = server();
    let long = format!("Host: {at}\r\nX: {}\r\n", "x".repeat(HEAD_BYTES));
    let refused = ask(at, "GET /here", &long);
    assert!([400, 431].contains(&refused), "{refused}");
    // All but one of its connections are held by clients that say nothing.
    let _held: Vec<TcpStream> = (1..CONNECTIONS)
        .map(|_| TcpStream::connect(at).expect("a connection"))
        .collect();
    let begin = Instant::now();
    assert_eq!(ask(at, "GET /here", &format!("Host: {at}\r\n")), 200);
    assert!(begin.elapsed() < HEAD_TIME, "it waited for the slow ones");
    // One more, and the next waits until the first slow ones are given up.
    let _last = TcpStream::connect(at).expect("a connection");
    assert_eq!(ask(at, "GET /here", &format!("Host: {at}\r\n")), 200);
}
