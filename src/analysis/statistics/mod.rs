//! Statistics of any list of numbers: middles and scatters that few outliers move, straight lines with correlated errors, changes
//! of level, Student's quantiles.

pub mod change_points;
pub mod estimate;
pub mod hampel;
pub mod median;
pub mod regression;
pub mod student;
