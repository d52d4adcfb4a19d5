//! Helpers shared by the system tests.
