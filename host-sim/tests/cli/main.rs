//! `host-sim` as a person runs it: a module for each command. One binary, so that it is linked once and its tests share the cores.

mod compare;
mod drill;
mod files;
mod fit;
mod lay;
#[cfg(unix)]
mod line;
mod logs;
mod page;
mod pages;
mod replay;
mod settings;
mod site;
mod size;
mod spells;
mod support;
mod tonight;
mod tune;
#[cfg(unix)]
mod watch;
mod weather;
mod winter;
