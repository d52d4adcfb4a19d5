//! QEMU plugin: instructions executed from the entry of a function to its return.
//!
//! `-plugin libstepcount.so,entry=0xADDRESS,back=0xADDRESS,out=FILE`: `entry` is the function's first
//! instruction, `back` the one after its call. Writes calls, least, most and mean at the end.
//! Source: QEMU's TCG plugin interface, version 1.

use std::ffi::{CStr, c_char, c_int, c_uint, c_void};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

type Block = c_void;
type Instruction = c_void;

unsafe extern "C" {
    fn qemu_plugin_register_vcpu_tb_trans_cb(id: u64, called: extern "C" fn(u64, *mut Block));
    fn qemu_plugin_tb_n_insns(block: *const Block) -> usize;
    fn qemu_plugin_tb_get_insn(block: *const Block, n: usize) -> *mut Instruction;
    fn qemu_plugin_insn_vaddr(instruction: *const Instruction) -> u64;
    fn qemu_plugin_register_vcpu_insn_exec_cb(
        instruction: *mut Instruction,
        called: extern "C" fn(c_uint, *mut c_void),
        flags: c_int,
        data: *mut c_void,
    );
    fn qemu_plugin_register_atexit_cb(
        id: u64,
        called: extern "C" fn(u64, *mut c_void),
        data: *mut c_void,
    );
}

/// Interface version asked for.
#[unsafe(no_mangle)]
pub static qemu_plugin_version: c_int = 1;

static ENTRY: AtomicU64 = AtomicU64::new(0);
static BACK: AtomicU64 = AtomicU64::new(0);
static COUNT: AtomicU64 = AtomicU64::new(0);
static STARTED: AtomicU64 = AtomicU64::new(0);
static FOUND: Mutex<(String, Vec<u64>)> = Mutex::new((String::new(), Vec::new()));

extern "C" fn executed(_: c_uint, _: *mut c_void) {
    COUNT.fetch_add(1, Relaxed);
}

extern "C" fn entered(_: c_uint, _: *mut c_void) {
    STARTED.store(COUNT.load(Relaxed), Relaxed);
}

extern "C" fn returned(_: c_uint, _: *mut c_void) {
    let started = STARTED.swap(u64::MAX, Relaxed);
    if started != u64::MAX
        && let Ok(mut found) = FOUND.lock()
    {
        found.1.push(COUNT.load(Relaxed) - started);
    }
}

extern "C" fn translated(_: u64, block: *mut Block) {
    let none = std::ptr::null_mut();
    // SAFETY: QEMU hands a valid block and its instructions for the time of this call.
    unsafe {
        for n in 0..qemu_plugin_tb_n_insns(block) {
            let instruction = qemu_plugin_tb_get_insn(block, n);
            let address = qemu_plugin_insn_vaddr(instruction);
            if address == ENTRY.load(Relaxed) {
                qemu_plugin_register_vcpu_insn_exec_cb(instruction, entered, 0, none);
            }
            if address == BACK.load(Relaxed) {
                qemu_plugin_register_vcpu_insn_exec_cb(instruction, returned, 0, none);
            }
            qemu_plugin_register_vcpu_insn_exec_cb(instruction, executed, 0, none);
        }
    }
}

extern "C" fn ended(_: u64, _: *mut c_void) {
    let Ok(found) = FOUND.lock() else { return };
    let (out, counts) = &*found;
    let least = counts.iter().min().copied().unwrap_or(0);
    let most = counts.iter().max().copied().unwrap_or(0);
    let mean = counts
        .iter()
        .sum::<u64>()
        .checked_div(counts.len() as u64)
        .unwrap_or(0);
    let text = format!(
        "calls={} least={least} most={most} mean={mean}\n",
        counts.len()
    );
    if out.is_empty() {
        eprint!("{text}");
    } else if let Err(error) = std::fs::write(out, text) {
        eprintln!("stepcount: {out}: {error}");
    }
}

/// Called by QEMU with the arguments given.
#[unsafe(no_mangle)]
pub extern "C" fn qemu_plugin_install(
    id: u64,
    _: *const c_void,
    count: c_int,
    arguments: *const *const c_char,
) -> c_int {
    for n in 0..usize::try_from(count).unwrap_or(0) {
        // SAFETY: QEMU gives `count` strings.
        let text = unsafe { CStr::from_ptr(*arguments.add(n)) }.to_string_lossy();
        let Some((key, value)) = text.split_once('=') else {
            return 1;
        };
        let address = u64::from_str_radix(value.trim_start_matches("0x"), 16);
        match (key, address) {
            ("entry", Ok(address)) => ENTRY.store(address, Relaxed),
            ("back", Ok(address)) => BACK.store(address, Relaxed),
            ("out", _) => {
                if let Ok(mut found) = FOUND.lock() {
                    found.0 = value.to_owned();
                }
            }
            _ => return 1,
        }
    }
    // SAFETY: the functions have the types asked for and live as long as the plugin.
    unsafe {
        qemu_plugin_register_vcpu_tb_trans_cb(id, translated);
        qemu_plugin_register_atexit_cb(id, ended, std::ptr::null_mut());
    }
    0
}
