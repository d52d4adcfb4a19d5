// The USB port in the emulator: a copy of the serial line for a PC that comes, sleeps, reads nothing and goes.
// USB_HOURS of virtual time with a PC that does all of it at random from USB_SEED, an hour at every run.
import assert from 'node:assert/strict';
import test from 'node:test';
import { Board } from '../board.mjs';
import { Pc } from '../usb.mjs';
import { random } from '../random.mjs';
import { Serial } from '../serial.mjs';

const IMAGE = process.env.PICO_IMAGE
  ?? new URL('../../boards/pico/target/thumbv6m-none-eabi/release/firmware-pico', import.meta.url).pathname;
const BUTTON = 14, BUS = 15, ALARM = 18;
const SHARES = [44_900, 46_300, 48_000]; // of 65 536: some 8, 6 and 3.5 °C

/** A unit with three thermistors and an empty sensor bus, which costs the emulator little. */
function unit(kept = {}) {
  const board = new Board(IMAGE, kept), serial = new Serial(board), pc = new Pc(board);
  [BUTTON, BUS].forEach((pin) => board.mcu.gpio[pin].setInputValue(true)); // pulled up
  SHARES.forEach((share, n) => { board.mcu.peripherals[0x4004c].channelValues[n] = share >> 4; });
  board.run(1500);
  if (!kept.flash) ['supply', 'return', 'slab'].forEach((name, n) => { serial.say(`bind ${name} input ${n}`); board.run(300); });
  return { board, serial, pc };
}

/** Attached and opened. */
function attached(kept) {
  const h = unit(kept);
  h.pc.attach();
  h.board.run(300);
  assert.ok(h.pc.opened, 'the PC has found the port and opened it');
  h.pc.take();
  h.serial.take();
  return h;
}

const rows = (lines) => lines.filter((line) => line.startsWith('row '));
/** A row without its time. */
const decided = (row) => row.slice(row.indexOf(','));
const reason = (row) => row.split(',')[16];

function ask(h, text) {
  h.pc.take();
  h.pc.say(text);
  h.board.run(600);
  return h.pc.take();
}

test('the USB port carries the serial line\'s own lines and takes the same requests', () => {
  const h = attached();
  h.pc.say('status');
  h.board.run(61e3);
  const lines = h.pc.take();
  assert.deepEqual(lines, h.serial.take());
  assert.equal(rows(lines).length, 6);
  assert.ok(lines.some((line) => / board=pico /.test(line)));
  assert.equal(h.pc.broken, 0);
  // What changes anything needs its checksum here too; half a line on either port is nothing to the other.
  h.serial.send(Buffer.from('set target 4.0~12'));
  h.pc.send(Buffer.from('mode drained\n'));
  h.board.run(300);
  assert.match(h.pc.take('no ')[0], /^no_checksum: /);
  assert.match(ask(h, 'set target 1.600')[0], /^ok draft target 1.600 C/);
  assert.match(ask(h, 'apply')[0], /^ok stored/);
  h.board.run(12e3);
  const next = attached({ flash: h.board.mcu.flash.slice() });
  assert.match(ask(next, 'show target')[0], /^setting target 1.600 C/);
  assert.ok(next.board.stackUsed <= 16 * 1024, `${next.board.stackUsed} bytes of stack`);
  console.log(`stack at most ${next.board.stackUsed} bytes`);
});

test('a PC that reads nothing, sleeps, closes the port or goes holds up nothing and gets whole lines again', () => {
  const h = attached();
  const absences = {
    'reads nothing': [() => { h.pc.reads = false; }, () => h.pc.readOn()],
    sleeps: [() => h.pc.sleep(), () => h.pc.wake()],
    'closes the port': [() => h.pc.close(), () => h.pc.open()],
    'has its cable out': [() => h.pc.detach(), () => h.pc.attach()],
  };
  for (const [what, [go, come]] of Object.entries(absences)) {
    go();
    h.serial.take();
    h.board.run(600e3);
    assert.equal(h.board.stopped, null, what);
    const missed = rows(h.serial.take()).length;
    assert.ok(missed >= 59, `${what}: ${missed} rows in 600 s`);
    come();
    h.board.run(2e3);
    h.pc.take();
    h.serial.take();
    h.board.run(60e3);
    assert.deepEqual(h.pc.take(), h.serial.take(), what);
  }
  assert.equal(h.pc.broken, 0, h.pc.firstBroken);
  const lost = Number(/ lines_lost=(\d+)/.exec(ask(h, 'status').join('\n'))[1]);
  // Where nobody has the port open, nothing is lost; the PC that read nothing missed all but what waits.
  assert.ok(lost > 45 && lost < 65, `${lost} lines`);
});

test('the second watchdog reset within an hour leaves the port off, and the power brings it back', () => {
  let kept = {};
  for (const [reason, works] of [[0, true], [1, true], [1, false], [1, false], [0, true]]) {
    const h = unit({ ...kept, reason });
    h.pc.attach();
    h.board.run(3e3);
    assert.equal(h.pc.opened, works);
    assert.equal(h.board.stopped, null);
    kept = { flash: h.board.mcu.flash.slice(), scratch: h.board.scratch };
    if (reason === 1 && !works) continue;
    assert.ok(rows(h.serial.take()).length > 0);
  }
});

/** Other temperatures every half hour, some seconds after a row: a night in which the decision changes. */
function weather(board, seed) {
  const draw = random(seed);
  const changes = board.clock.createAlarm(() => {
    [0, 1, 2].forEach((n) => { board.mcu.peripherals[0x4004c].channelValues[n] = (40_000 + draw(16_000)) >> 4; });
    changes.schedule(1800e9);
  });
  changes.schedule(1805e9);
}

/** The longest time between two feeds of the watchdog from now on, ms. */
function feeds(board) {
  const dog = board.mcu.peripherals[0x40058], write = dog.writeUint32.bind(dog), seen = { longest: 0, last: board.ms };
  dog.writeUint32 = (offset, value) => {
    if (offset === 4) { seen.longest = Math.max(seen.longest, board.ms - seen.last); seen.last = board.ms; }
    write(offset, value);
  };
  return seen;
}

test('a PC that comes and goes at random changes no decision', () => {
  const hours = Number(process.env.USB_HOURS ?? 1), seed = Number(process.env.USB_SEED ?? 11), draw = random(seed);
  // Beside it a unit that no PC ever comes to.
  const h = unit(), alone = unit(), fed = feeds(h.board), fedAlone = feeds(alone.board);
  [h, alone].forEach(({ board }) => weather(board, seed + 1));
  const start = h.board.ms, did = {}, visited = [], undisturbed = [];
  let asked = 0, heard = 0;
  const acts = {
    attach: (pc) => pc.attach({ open: draw(4) > 0 }),
    detach: (pc) => pc.detach(),
    sleep: (pc) => pc.attached && pc.sleep(),
    wake: (pc) => pc.asleep && pc.wake(),
    open: (pc) => pc.ready && pc.open(),
    close: (pc) => pc.ready && pc.close(),
    'read nothing': (pc) => { pc.reads = false; },
    'read on': (pc) => pc.readOn(),
    ask: (pc) => { asked++; pc.say(['status', 'settings', 'log', 'help'][draw(4)]); },
    noise: (pc) => pc.send(Array.from({ length: draw(400) }, () => draw(256))),
    'attach once more': (pc) => pc.attach(),
    'half a request': (pc) => pc.send(Buffer.from('mode drai')),
  };
  const watch = () => {
    alone.board.run(h.board.ms - alone.board.ms);
    assert.deepEqual([h.board.stopped, alone.board.stopped], [null, null]);
    // A turn may come some milliseconds later for a request; the rest of the row is the same.
    visited.push(...rows(h.serial.take()).map(decided));
    undisturbed.push(...rows(alone.serial.take()).map(decided));
    heard += rows(h.pc.take()).length;
  };
  while (h.board.ms - start < hours * 3600e3) {
    const name = Object.keys(acts)[draw(Object.keys(acts).length)];
    did[name] = (did[name] ?? 0) + 1;
    acts[name](h.pc);
    h.board.run([200, 2e3, 10e3, 30e3, 120e3][draw(5)] + draw(1000));
    watch();
  }
  assert.ok(heard > 0 && asked > 0, 'the PC was there now and then');
  h.pc.detach();
  h.board.run(20e3);
  watch();
  const due = (h.board.ms - start) / 10e3, same = Math.min(visited.length, undisturbed.length);
  assert.ok(Math.abs(same - due) <= 2 && Math.abs(visited.length - undisturbed.length) <= 1, `${same} rows, ${due.toFixed(0)} due`);
  assert.deepEqual(visited.slice(0, same), undisturbed.slice(0, same));
  assert.ok(fed.longest < fedAlone.longest + 50, `${fed.longest} ms between two feeds, ${fedAlone.longest} alone`);
  h.pc.reads = true;
  h.pc.attach();
  h.board.run(1e3);
  const status = ask(h, 'status').join('\n');
  assert.match(status, / output_faults=0 /);
  assert.match(status, / flash_faults=0 /);
  assert.equal(h.board.level(ALARM), false, 'nothing was stored: it rings');
  const changes = visited.filter((row, n) => n > 0 && reason(row) !== reason(visited[n - 1])).length;
  console.log(`${hours} h: ${visited.length} rows, ${changes} times another reason, ${heard} rows over USB, ${asked} requests, ${h.pc.failed} enumerations tried again, ${h.pc.broken} broken lines, `
    + `longest between two feeds ${fed.longest.toFixed(0)} ms, alone ${fedAlone.longest.toFixed(0)}; ${JSON.stringify(did)}`);
});
