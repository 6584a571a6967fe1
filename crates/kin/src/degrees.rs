//! Kin by degrees: which of the twelve slots above the root two riffs share.

use riffkin_score::degree::{Degree, DegreeSet};

/// How two sets of degrees lie to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Relation {
    /// The same degrees.
    Same,
    /// Everything here is also there.
    Within,
    /// Everything there is also here.
    Holds,
    /// Each has one that the other lacks, all else is shared.
    OneChanged,
    /// They share some.
    Overlapping,
    /// They share none.
    Apart,
}

/// Two sets of degrees side by side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Degrees {
    /// In both.
    pub shared: DegreeSet,
    /// Only in the riff that was asked about.
    pub only_here: DegreeSet,
    /// Only in the other one.
    pub only_there: DegreeSet,
}

impl Degrees {
    /// Of the riff asked about, `here`, and another.
    pub fn between(here: DegreeSet, there: DegreeSet) -> Self {
        Self { shared: here.shared(there), only_here: here.without(there), only_there: there.without(here) }
    }

    /// How they lie to each other.
    pub fn relation(&self) -> Relation {
        match (self.shared.len(), self.only_here.len(), self.only_there.len()) {
            (_, 0, 0) => Relation::Same,
            (_, 0, _) => Relation::Within,
            (_, _, 0) => Relation::Holds,
            (0, _, _) => Relation::Apart,
            (_, 1, 1) => Relation::OneChanged,
            _ => Relation::Overlapping,
        }
    }

    /// How many degrees must be added or taken away to make one of the other; one exchanged for another counts
    /// once: the larger of the two remainders.
    pub fn steps_apart(&self) -> usize {
        self.only_here.len().max(self.only_there.len())
    }

    /// Near kin: the same but for one degree, added, left out or exchanged.
    pub fn is_near(&self) -> bool {
        self.steps_apart() == 1
    }

    /// In words.
    pub fn words(&self) -> String {
        let (here, there) = (names(self.only_here), names(self.only_there));
        match self.relation() {
            Relation::Same => "the same degrees".to_owned(),
            Relation::Within => format!("all of these degrees, and {there}"),
            Relation::Holds => format!("some of these degrees and no other; without {here}"),
            Relation::OneChanged => format!("the same but for one: {there} instead of {here}"),
            Relation::Overlapping => {
                format!("{} in common; {here} only here, {there} only there", names(self.shared))
            }
            Relation::Apart => format!("no degree in common: {here} here, {there} there"),
        }
    }
}

/// Degrees under their usual names, as printed.
fn names(set: DegreeSet) -> String {
    set.slots().map(|s| Degree::usual(s).print()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(text: &str) -> DegreeSet {
        text.split_whitespace().map(|d| d.parse::<Degree>().unwrap()).collect()
    }

    /// The minor pentatonic has five degrees, the minor blues scale one more (common practice, no source).
    #[test]
    fn relations() {
        let pentatonic = set("1 b3 4 5 b7");
        let of = |other: &str| Degrees::between(pentatonic, set(other));
        assert_eq!(of("1 b3 4 5 b7").relation(), Relation::Same);
        assert_eq!(of("1 b3 4 b5 5 b7").relation(), Relation::Within);
        assert!(of("1 b3 4 b5 5 b7").is_near());
        assert_eq!(of("1 5").relation(), Relation::Holds);
        assert!(!of("1 5").is_near());
        assert_eq!(of("1 3 4 5 b7").relation(), Relation::OneChanged);
        assert_eq!(of("1 3 4 5 b7").words(), "the same but for one: 3 instead of ♭3");
        assert_eq!(of("1 2 3 5 6").relation(), Relation::Overlapping);
        assert_eq!(of("2 3 6").relation(), Relation::Apart);
        assert!(of("1 b3 4 5").is_near());
    }

    /// Distance by adding, leaving out and exchanging is a distance: checked over sets by breadth-first search.
    #[test]
    fn steps_are_the_fewest() {
        let small: Vec<DegreeSet> = (0..64).map(DegreeSet::from_bits).collect();
        let next = |from: DegreeSet| {
            small.iter().copied().filter(move |to| {
                let (a, b) = (from.without(*to).len(), to.without(from).len());
                (a, b) == (1, 0) || (a, b) == (0, 1) || (a, b) == (1, 1)
            })
        };
        for &start in &small {
            let mut far = vec![usize::MAX; 64];
            let mut queue = std::collections::VecDeque::from([start]);
            far[usize::from(start.bits())] = 0;
            while let Some(at) = queue.pop_front() {
                let steps = far[usize::from(at.bits())];
                for to in next(at) {
                    if far[usize::from(to.bits())] == usize::MAX {
                        far[usize::from(to.bits())] = steps + 1;
                        queue.push_back(to);
                    }
                }
            }
            for &end in &small {
                assert_eq!(Degrees::between(start, end).steps_apart(), far[usize::from(end.bits())]);
            }
        }
    }
}
