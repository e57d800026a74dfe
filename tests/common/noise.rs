//! Made-up scatter, the same on every machine.

/// Park and Miller's "minimal standard" generator: n ← 16807 n mod (2³¹ − 1).
pub(crate) struct Noise(pub(crate) u64);

impl Noise {
    /// Between 0 and 1.
    pub(crate) fn uniform(&mut self) -> f64 {
        self.0 = 16_807 * self.0 % 2_147_483_647;
        self.0 as f64 / 2_147_483_647.0
    }

    /// Twelve uniform numbers less six: their variance is 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}
