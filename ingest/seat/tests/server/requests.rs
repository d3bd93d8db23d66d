//! Anything as a request, through all that answers: the seeds of the fuzzing target, and those with bytes changed.

#[path = "../../../../tests/fuzz/bodies/requests.rs"]
mod body;

use proptest::prelude::{ProptestConfig, any, proptest};
use std::path::{Path, PathBuf};

fn seeds() -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fuzz/corpus/requests");
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files.iter().map(|file| std::fs::read(file).unwrap()).collect()
}

#[test]
fn the_seeds_are_answered_as_they_should_be() {
    let seeds = seeds();
    assert!(seeds.len() > 12);
    for seed in &seeds {
        body::body(seed);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn changed_ones_do_no_harm(
        which in any::<proptest::sample::Index>(),
        changes in proptest::collection::vec((any::<proptest::sample::Index>(), 0_u8..4, any::<u8>()), 1..12),
        other in any::<proptest::sample::Index>(),
    ) {
        let seeds = seeds();
        let mut bytes = which.get(&seeds).clone();
        for (place, what, byte) in changes {
            let at = place.index(bytes.len());
            match what {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                2 if bytes.len() > 2 => drop(bytes.remove(at)),
                _ => {
                    let other = other.get(&seeds);
                    let from = place.index(other.len());
                    let piece: Vec<u8> = other[from..].iter().copied().take(usize::from(byte)).collect();
                    bytes.splice(at..at, piece);
                }
            }
        }
        body::body(&bytes);
    }
}
