//! Imprints: whatever the bytes, an error with a place or an imprint that comes back as it went.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_kin::imprint::Imprint;
use riffkin_kin::kinship::Kinship;

fuzz_target!(|data: &[u8]| {
    match Imprint::from_bytes(data) {
        Ok(made) => {
            assert_eq!(Imprint::from_bytes(&made.to_bytes()).as_ref(), Ok(&made));
            if made.notes().len() < 64 {
                assert_eq!(Kinship::between(&made, &made).degrees.steps_apart(), 0);
            }
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
