//! Findings and numbers as text for the bench and as JSON for other programs.

pub mod battery;
pub mod battery_backtest;
pub mod battery_json;
pub mod battery_live;
pub mod battery_plan;
pub mod battery_test;
pub mod cautions;
pub mod compare;
mod compare_drift;
pub mod compare_json;
pub mod diagnose;
pub mod diagnose_form;
pub mod diagnose_json;
pub mod diagnose_session;
mod digits;
mod events;
pub mod explained;
pub mod field;
pub mod interruptions;
pub mod lamp;
mod layout;
pub mod predict;
pub mod predict_json;
pub mod predict_wanted;
pub mod start;
pub mod start_json;
