// Live unit: a unit at this computer's serial port, heard and shown. It is asked for its columns and its status, and nothing else.

import { Answer } from "./answer.mjs";
import { button, el, save } from "./dom.mjs";
import { clock } from "./simulator.mjs";

// Of every board, as docs/serial-line.md has it.
const BAUD = 115_200;
// How often time is told to pass, and how often the page is drawn anew, ms.
const TURN_MS = 1_000;
const DRAW_MS = 5_000;

const GONE = "The port is gone. What was heard stays below; connect again to go on.";
const INSTEAD = "This browser has no serial port. On a PC host-sim listen writes the unit's log, and My log reads it; host-sim watch shows this page to any browser.";

export function livePage({ house, live, guard }) {
  const answer = new Answer("live");
  const counts = el("p", { className: "meaning" });
  let heard = false;
  let connection = null;
  let lastDraw = 0;
  let rows = 0;

  const tell = async (happens) => {
    await live.ask(clock());
    const told = await live.ask({ ask: "live", units: house.units, happens });
    if (told.refused) answer.refuse(told.refused);
    return told.asks ?? "";
  };

  const draw = guard(async () => {
    lastDraw = Date.now();
    await live.ask(clock());
    const now = await live.ask({ ask: "live_page", units: house.units });
    if (now.refused) return answer.refuse(now.refused);
    answer.show(now.page, "unit.html");
    const { damaged, counts: kept } = now;
    rows = kept.rows;
    // Only what changes with the unit's state, so that nobody is told every tenth of a degree.
    if (connection && rows > 0) answer.say(`Connected. ${answer.word}.`);
    const unused = damaged + kept.misfit_rows;
    counts.textContent = `Rows kept in this page: ${kept.rows}, ${now.kb} kB. Lines that were damaged and not used: ${unused}.`;
    saveLog.disabled = anew.disabled = kept.rows === 0;
    return undefined;
  }, answer);

  // Everything that happens goes through one queue: the port's bytes, the time, the end.
  let queue = Promise.resolve();
  const next = (act) => (queue = queue.then(guard(act, answer)));

  const send = async (asks) => {
    if (asks === "" || !connection?.port.writable) return;
    const writer = connection.port.writable.getWriter();
    try {
      await writer.write(new TextEncoder().encode(asks));
    } catch {
      // A port that is gone is noticed by who reads.
    } finally {
      writer.releaseLock();
    }
  };

  const take = (bytes) =>
    next(async () => {
      await send(await tell({ heard: [...bytes] }));
      if (rows === 0 || Date.now() - lastDraw >= DRAW_MS) await draw();
    });

  const listen = async (port) => {
    while (port.readable && connection?.port === port) {
      const reader = port.readable.getReader();
      connection.reader = reader;
      try {
        for (;;) {
          const { value, done } = await reader.read();
          if (done) return;
          take(value);
        }
      } catch {
        // A break or a full buffer: the port gives a new stream, or it is gone and gives none.
      } finally {
        reader.releaseLock();
      }
    }
  };

  const end = async () => {
    const { port, timer, words } = connection;
    clearInterval(timer);
    connection = null;
    await next(() => tell("unplugged"));
    await draw();
    // A port that was pulled is closed already.
    await port.close().catch(() => {});
    connect.hidden = false;
    stop.hidden = true;
    answer.say(words);
  };

  const connect = button("Connect a unit", guard(async () => {
    let port;
    try {
      port = await navigator.serial.requestPort();
    } catch {
      return answer.say("No port was chosen.");
    }
    try {
      await port.open({ baudRate: BAUD });
    } catch (error) {
      return answer.say(`The port cannot be opened: ${error.message} Another program may have it.`);
    }
    heard = true;
    connection = { port, timer: setInterval(() => take([]), TURN_MS), words: GONE };
    connect.hidden = true;
    stop.hidden = false;
    answer.say("Connected. Waiting for the unit's first row, 20 s at most.");
    next(() => tell("connected"));
    take([]);
    listen(port).then(end);
    return undefined;
  }, answer));
  const stop = button("Disconnect", guard(async () => {
    if (!connection) return;
    connection.words = "Disconnected. What was heard stays below.";
    await connection.reader.cancel();
  }, answer), { hidden: true });
  const saveLog = button("Save the log", guard(async () => {
    const { text, refused } = await live.ask({ ask: "live_log" });
    if (refused) throw new Error(refused);
    save("unit-log.csv", text);
  }, answer), { disabled: true });

  const anew = button("Begin a new log", guard(async () => {
    await next(() => tell("forgotten"));
    rows = 0;
    take([]);
  }, answer), { disabled: true });

  const hasPort = "serial" in navigator;
  const parts = [
    el("p", {}, "What does the unit do now, and why? Its rows are shown and kept as long as this page is open. Nothing here changes the unit."),
    hasPort ? el("p", { className: "tools" }, connect, stop, saveLog, anew) : el("p", {}, INSTEAD),
    counts,
    answer.element,
  ];
  return { parts, opened: () => heard && draw() };
}
