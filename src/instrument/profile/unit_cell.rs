//! The place of the unit of a number that does not carry it itself.

/// The place of the unit of a number that does not carry it itself.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum UnitCell {
    /// It is in the cell beside it, if that is nothing but a unit of the quantity; else the profile's `unit` holds.
    #[default]
    Beside,
    /// It is in no cell: the profile's `unit` holds.
    Nowhere,
    /// It is in this cell, counted from 1.
    At(usize),
    /// It is in the column with this name.
    Named(String),
}

/// The same as [`UnitCell`], with names looked up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::instrument) enum UnitAt {
    Beside,
    Nowhere,
    Cell(usize),
}

impl UnitCell {
    /// The same with its name looked up by `find`; `None` if there is no such column.
    pub(in crate::instrument) fn resolve(
        &self,
        find: impl Fn(&str) -> Option<usize>,
    ) -> Option<UnitAt> {
        match self {
            Self::Beside => Some(UnitAt::Beside),
            Self::Nowhere => Some(UnitAt::Nowhere),
            Self::At(position) => position.checked_sub(1).map(UnitAt::Cell),
            Self::Named(name) => find(name).map(UnitAt::Cell),
        }
    }
}
