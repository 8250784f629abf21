//! Source: **reference library** PyPI `can-isotp` 2.0.7, an implementation of ISO 15765-2; `make/car_segments.py` draws the
//! messages and their damage, and this test draws the same.

use crate::json;
use faultodds::car::simulated::segmented;
use faultodds::car::{Came, Frame, Segments};
use sha2::{Digest, Sha256};

/// splitmix64.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n as u64).unwrap()
    }
}

/// The frames as they come, and whether one of them came twice.
fn damaged(mut frames: Vec<Frame>, dice: &mut Dice) -> (Vec<Frame>, bool) {
    let damage = dice.below(20);
    if damage <= 10 {
        return (frames, false);
    }
    let at = dice.below(frames.len());
    match damage {
        11..=13 => drop(frames.remove(at)),
        14..=15 => frames.insert(at, frames[at]),
        16..=17 => {
            let other = (at + 1) % frames.len();
            frames.swap(at, other);
        }
        _ => frames.truncate(at),
    }
    (frames, matches!(damage, 14..=15))
}

#[test]
fn ten_thousand_messages_come_out_as_the_reference_has_them() {
    let fixture = json("car-segments.json");
    let delivered = fixture["delivered"].as_str().unwrap();
    let theirs = |at: usize| {
        let byte = u8::from_str_radix(&delivered[at / 8 * 2..at / 8 * 2 + 2], 16).unwrap();
        byte >> (7 - at % 8) & 1 == 1
    };
    let wrong_at: Vec<u64> =
        fixture["wrong_at"].as_array().unwrap().iter().filter_map(serde_json::Value::as_u64).collect();
    let mut dice = Dice(fixture["seed"].as_u64().unwrap());
    let mut all = Sha256::new();
    let mut receiver = Segments::default();
    let (mut count, mut both, mut ours_alone) = (0u64, 0, 0);
    for at in 0..usize::try_from(fixture["messages"].as_u64().unwrap()).unwrap() {
        let most = [7, 60, 400, 4095][dice.below(4)];
        let length = 1 + dice.below(most);
        let message: Vec<u8> = (0..length).map(|_| u8::try_from(dice.next() & 0xFF).unwrap()).collect();
        let frames = segmented(0x7E8, false, &message);
        for f in &frames {
            all.update(f.bytes());
        }
        count += frames.len() as u64;
        let (frames, doubled) = damaged(frames, &mut dice);
        let mut got = false;
        for frame in &frames {
            if let (Came::Message(bytes), _) = receiver.take(frame) {
                // What the frames alone cannot tell, the reference cannot either; see `car_segments.py`.
                let fooled = bytes != message && wrong_at.contains(&(at as u64));
                assert!(bytes == message || fooled, "message {at}: something else came out than was sent");
                got |= bytes == message;
            }
        }
        match (theirs(at), got) {
            (true, true) => both += 1,
            (true, false) => panic!("message {at} of {length} bytes: the reference delivers it, we do not"),
            // A frame logged twice is one frame: the reference gives up on it.
            (false, true) => {
                assert!(doubled, "message {at}: we deliver what the reference does not");
                ours_alone += 1;
            }
            (false, false) => {}
        }
    }
    assert_eq!(Some(count), fixture["frame_count"].as_u64());
    let hashed: String = all.finalize().iter().map(|b| format!("{b:02x}")).collect();
    assert_eq!(hashed, fixture["frames"].as_str().unwrap(), "our frames are not the reference's");
    println!("{both} messages delivered by both, {ours_alone} by us alone (a frame twice)");
    assert!(both > 5000 && ours_alone > 100);
}
