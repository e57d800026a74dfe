//! Lines and answers of an instrument, read into values.

pub(in crate::instrument) mod answer;
pub(in crate::instrument) mod block;
pub(in crate::instrument) mod cells;
pub(in crate::instrument) mod columns;
pub(in crate::instrument) mod complaint;
pub(in crate::instrument) mod field;
pub(in crate::instrument) mod fields;
pub(in crate::instrument) mod habits;
pub(in crate::instrument) mod places;
pub(in crate::instrument) mod reading;
pub(in crate::instrument) mod stream;
pub(in crate::instrument) mod unasked;
pub(in crate::instrument) mod unit_beside;
