//! Findings and numbers as text for the bench and as JSON for other programs, a folder for each command.

pub mod at_hand;
pub mod battery;
pub mod card;
pub mod cautions;
pub mod check;
pub mod compare;
pub mod diagnose;
mod digits;
pub mod form;
pub mod guide;
pub mod hazards;
pub mod interview;
pub mod layout;
pub mod ports;
pub mod predict;
pub mod record;
pub mod sheets;
mod short;
pub mod simulate;

#[cfg(test)]
mod schemas;
