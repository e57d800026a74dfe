//! One field of a line.

/// One field of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::instrument) struct Field<'l> {
    pub(in crate::instrument) name: &'l str,
    pub(in crate::instrument) text: &'l str,
}
