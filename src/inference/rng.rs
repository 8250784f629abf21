//! A small deterministic source of random numbers, the same on every machine. Not for secrets.

/// xoshiro256++ (D. Blackman and S. Vigna, "Scrambled linear pseudorandom number generators", ACM Transactions
/// on Mathematical Software 47, 2021), its state filled by splitmix64 as its authors advise.
#[derive(Clone, Debug)]
pub struct Rng {
    state: [u64; 4],
}

impl Rng {
    /// The stream with this number. Streams of one seed start from unrelated states.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut s = seed;
        let mut mix = splitmix(&mut s) ^ stream.wrapping_mul(0x9e37_79b9_7f4a_7c15).rotate_left(32);
        Self { state: [(); 4].map(|()| splitmix(&mut mix)) }
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Uniform in the open interval (0, 1): the middle of one of 2^53 equal parts is never 0 or 1.
    pub fn unit(&mut self) -> f64 {
        ((self.bits() >> 12) as f64 + 0.5) * (1.0 / 4_503_599_627_370_496.0)
    }

    /// Uniform in `0..n`, for small `n`.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n - 1)
    }

    /// Puts them into an order of its own, each equally likely (R. Fisher and F. Yates, from memory).
    pub fn shuffle<T>(&mut self, of: &mut [T]) {
        for i in (1..of.len()).rev() {
            of.swap(i, self.below(i + 1));
        }
    }
}

/// One step of splitmix64 (G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom number generators", 2014).
fn splitmix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn splitmix_starts_as_published() {
        // First outputs for seed 1234567, as listed at rosettacode.org "Pseudo-random numbers/Splitmix64", from memory.
        let mut s = 1_234_567;
        assert_eq!(splitmix(&mut s), 6_457_827_717_110_365_317);
        assert_eq!(splitmix(&mut s), 3_203_168_211_198_807_973);
    }

    #[test]
    fn xoshiro_follows_its_recurrence() {
        // State 1, 2, 3, 4: the first output is rotl(1 + 4, 23) + 1 = 41943041.
        let mut rng = Rng { state: [1, 2, 3, 4] };
        assert_eq!(rng.bits(), 41_943_041);
        assert_eq!(rng.bits(), 58_720_359);
    }

    #[test]
    fn uniform_numbers_have_their_moments() {
        let mut rng = Rng::new(7, 3);
        let n = 200_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n {
            let u = rng.unit();
            sum += u;
            squares += u * u;
        }
        assert!((sum / f64::from(n) - 0.5).abs() < 3e-3);
        assert!((squares / f64::from(n) - 1.0 / 3.0).abs() < 3e-3);
    }
}
