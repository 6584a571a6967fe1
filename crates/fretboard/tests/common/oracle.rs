//! The fit against exhaustive search: every way to play a line is tried, and its cost summed by a plain
//! function written from the words of [`Effort`], sharing no code with the search.
#![allow(dead_code, unreachable_pub, clippy::unwrap_used, reason = "each test file uses its own part")]

use riffkin_fretboard::fit::Fit;
use riffkin_fretboard::hand::{Effort, Hand, HandSize, Level, OpenStrings, Plucking};
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::{Approach, Mark, Note};
use riffkin_score::riff::Riff;
use riffkin_score::tempo::Tempo;
use riffkin_score::value::Shape;

use crate::common::{Dice, midi_note, riff_of};

/// One note of a way: string, fret, finger, position.
pub type Way = (u8, u8, u8, u8);

/// A beginning: its strings, and the least cost for each way of its last note.
type Begun = (Vec<u8>, Vec<(Way, f64)>);

/// What the plain function knows of a line.
struct Line {
    onset: Vec<f64>,
    end: Vec<f64>,
    note: Vec<Note>,
    bar: Vec<usize>,
}

impl Line {
    fn of(riff: &Riff) -> Self {
        let quarter = riff.header().tempo.seconds_per_quarter();
        let line = riff.line();
        Self {
            onset: line.iter().map(|n| n.onset.to_f64() * quarter).collect(),
            end: line.iter().map(|n| (n.onset + n.length).to_f64() * quarter).collect(),
            note: line.iter().map(|n| n.note).collect(),
            bar: line.iter().map(|n| n.bar).collect(),
        }
    }

    fn dead(&self, i: usize) -> bool {
        self.note[i].marks.has(Mark::Dead)
    }
}

pub struct Oracle<'a> {
    neck: &'a Neck,
    hand: &'a Hand,
    line: Line,
    pub choices: Vec<Vec<Way>>,
    must_be_open: bool,
}

impl<'a> Oracle<'a> {
    pub fn new(riff: &Riff, neck: &'a Neck, hand: &'a Hand) -> Self {
        let line = Line::of(riff);
        let mut oracle = Self { neck, hand, line, choices: Vec::new(), must_be_open: false };
        oracle.choices = (0..oracle.line.note.len()).map(|i| oracle.every_way(i)).collect();
        oracle.must_be_open = oracle
            .choices
            .iter()
            .enumerate()
            .any(|(i, c)| !oracle.line.dead(i) && c.iter().all(|&(_, fret, _, _)| fret == 0));
        oracle
    }

    /// `L (1 - 2^(-n/12))`.
    fn mm(&self, fret: u8) -> f64 {
        self.neck.scale_mm() * (1.0 - 2f64.powf(-f64::from(fret) / 12.0))
    }

    fn every_way(&self, i: usize) -> Vec<Way> {
        let note = self.line.note[i];
        let midi = i32::from(note.pitch.midi().number());
        let frets = self.neck.frets();
        let mut ways = Vec::new();
        for string in 1..=self.neck.string_count() {
            let open = i32::from(self.neck.strings()[usize::from(string) - 1].midi().number());
            if self.line.dead(i) {
                // On the string where the note itself would lie lowest, if there is one.
                let fret_on = |s: usize| midi - i32::from(self.neck.strings()[s].midi().number());
                let has = |s: &usize| (0..=i32::from(frets)).contains(&fret_on(*s));
                let own = (0..self.neck.strings().len()).filter(has).min_by_key(|&s| fret_on(s));
                if own.is_none_or(|s| s + 1 == usize::from(string)) {
                    ways.extend((1..=frets).map(|p| (string, p, 0, p)));
                }
                continue;
            }
            if note.place.is_some_and(|p| p.string != string) {
                continue;
            }
            match midi - open {
                0 => ways.extend((1..=frets).map(|p| (string, 0, 0, p))),
                fret if fret > 0 && fret <= i32::from(frets) => {
                    let fret = fret as u8;
                    for finger in 1..=4u8 {
                        for position in 1..=fret {
                            let above = fret - position;
                            let reached = match finger {
                                1 => above == 0,
                                2 => above == 1 || above == 2,
                                3 => above == 2,
                                _ => (2..=4).contains(&above),
                            };
                            let wide = self.mm(fret) - self.mm(position);
                            if reached && (above == 0 || wide <= self.hand.widest_mm()) {
                                ways.push((string, fret, finger, position));
                            }
                        }
                    }
                }
                _ => {}
            }
        }
        let stopped: Vec<Way> = ways.iter().copied().filter(|w| w.1 > 0).collect();
        let refused = self.hand.open_strings() == OpenStrings::Refused && note.place.is_none();
        if refused && !stopped.is_empty() && !self.line.dead(i) { stopped } else { ways }
    }

    fn w(&self, effort: Effort) -> f64 {
        let usual = self.hand.weights().of(effort);
        let level = match self.hand.level() {
            Level::Beginner => 1.4,
            Level::Intermediate => 1.0,
            Level::Advanced => 0.7,
        };
        match effort {
            Effort::ShiftSpeed | Effort::StringSkip | Effort::CrossedPluck | Effort::Hop => usual * level,
            Effort::OpenFixed | Effort::OpenRings if self.hand.open_strings() == OpenStrings::Welcome => 0.0,
            _ => usual,
        }
    }

    /// The cost of note `i` by itself.
    fn alone(&self, i: usize, (_, fret, finger, position): Way) -> f64 {
        if self.line.dead(i) {
            return 0.0;
        }
        if fret == 0 {
            let fixed = if self.must_be_open { 0.0 } else { self.w(Effort::OpenFixed) };
            let bend = if self.line.note[i].bend > 0 { self.w(Effort::MarkBroken) } else { 0.0 };
            return fixed + self.w(Effort::OpenRings) + bend;
        }
        let mut cost = self.mm(fret) / 100.0 * self.w(Effort::Height);
        let excess = self.mm(fret) - self.mm(position) - self.hand.comfortable_mm();
        if excess > 0.0 {
            cost += excess.powi(2) / 100.0 * self.w(Effort::Stretch);
            if position < self.hand.switch_fret() {
                cost += self.w(Effort::LowStretch);
            }
        }
        if finger == 4 {
            cost += self.w(Effort::LittleFinger);
        }
        if finger == 2 && fret - position == 2 {
            cost += self.w(Effort::SecondFingerOut);
        }
        let below = position < self.hand.switch_fret();
        let above = fret - position;
        if finger == 3 && below {
            cost += self.w(Effort::ThirdFingerLow);
        }
        if finger == 4 && above == 2 && !below {
            cost += self.w(Effort::LittleFingerIn);
        }
        if finger == 4 && above >= 3 && below {
            cost += self.w(Effort::SpreadLow);
        }
        if above == 4 {
            cost += self.w(Effort::FiveFrets);
        }
        cost
    }

    /// Which finger plucks note `i` in strict turns since the last rest.
    fn plucked(&self, i: usize) -> Option<u8> {
        let by_finger =
            |k: usize| matches!(self.line.note[k].approach, Approach::Plucked | Approach::SlidePlucked);
        let after_rest = |k: usize| k > 0 && self.line.onset[k] - self.line.end[k - 1] >= 0.2;
        let start = (0..=i).rev().find(|&k| after_rest(k)).unwrap_or(0);
        let before = (start..i).filter(|&k| by_finger(k)).count();
        by_finger(i).then_some(if before % 2 == 0 { 1 } else { 2 })
    }

    /// The cost of coming to note `i` from the one before; `None` when it cannot be done that way.
    fn between(&self, i: usize, a: Way, b: Way) -> Option<f64> {
        let line = &self.line;
        let (a_holds, b_holds) = (a.2 > 0, b.2 > 0);
        if !a_holds && a.3 != b.3 {
            return None;
        }
        let apart = (line.onset[i] - line.onset[i - 1]).max(0.03);
        let rest = line.onset[i] - line.end[i - 1] >= 0.2;
        let mut cost = 0.0;
        let same_string = a.0 == b.0;
        let any_dead = line.dead(i) || line.dead(i - 1);
        let done = match line.note[i].approach {
            Approach::Plucked => true,
            _ if any_dead => same_string,
            Approach::Slide | Approach::SlidePlucked => same_string && a.2 == b.2 && a_holds && b_holds,
            Approach::Hammer => same_string && a.1 < b.1 && a.2 < b.2 && a.3 == b.3,
            Approach::Pull => same_string && a.1 > b.1 && a.2 > b.2 && (a.3 == b.3 || b.1 == 0),
        };
        let slid = done && matches!(line.note[i].approach, Approach::Slide | Approach::SlidePlucked);
        if !done {
            cost += self.w(Effort::MarkBroken);
        }
        if a.3 != b.3 {
            let until_next = match line.onset.get(i + 1) {
                Some(next) => next - line.onset[i],
                None => line.end[i] - line.onset[i],
            };
            let (ease, time) = match (b_holds, rest) {
                (false, _) => (0.2, until_next.max(0.03)),
                (true, true) => (0.2, apart),
                (true, false) => (1.0, apart),
            };
            let mm = (self.mm(a.3) - self.mm(b.3)).abs();
            cost += ease * mm / time / 100.0 * self.w(Effort::ShiftSpeed);
            if !slid {
                cost += ease * self.w(Effort::Shift);
            }
        }
        if !same_string {
            let down = b.0 > a.0;
            let finger = self.plucked(i);
            let raked = self.hand.plucking() == Plucking::Raking && b.0 == a.0 + 1 && finger.is_some();
            if !raked {
                cost += self.w(Effort::StringChange);
            }
            cost += f64::from(a.0.abs_diff(b.0) - 1) * self.w(Effort::StringSkip);
            let crossed = finger == Some(if down { 2 } else { 1 });
            if self.hand.plucking() == Plucking::Alternating && crossed {
                cost += self.w(Effort::CrossedPluck);
            }
        }
        if a_holds && a.2 == b.2 && (a.0, a.1) != (b.0, b.1) && !slid {
            cost += if a.1 == b.1 {
                let ease = if b.2 == 1 { 0.5 } else { 1.0 };
                ease * f64::from(a.0.abs_diff(b.0)) * self.w(Effort::Roll)
            } else {
                let pace = (0.25 / apart).clamp(0.5, 2.0);
                let ease = if rest { 0.2 } else { 1.0 };
                let along = if same_string { 0.5 } else { 1.0 };
                pace * ease * along * self.w(Effort::Hop)
            };
        }
        let repeated = line.note[i].pitch.midi() == line.note[i - 1].pitch.midi() && !any_dead;
        if repeated && (a.0, a.1, a.2) != (b.0, b.1, b.2) {
            cost += self.w(Effort::RepeatMoved);
        }
        Some(cost)
    }

    /// The cost of a whole way; `None` when it cannot be played.
    pub fn cost(&self, way: &[Way]) -> Option<f64> {
        let mut cost = 0.0;
        for (i, &b) in way.iter().enumerate() {
            cost += self.alone(i, b);
            if i > 0 {
                cost += self.between(i, way[i - 1], b)?;
            }
        }
        Some(cost)
    }

    /// The least that each rest of the line can cost, note by note.
    fn ahead(&self) -> Vec<f64> {
        let n = self.choices.len();
        let mut ahead = vec![0.0; n + 1];
        for i in (1..n).rev() {
            let mut least = f64::INFINITY;
            for &b in &self.choices[i] {
                let alone = self.alone(i, b);
                for &a in &self.choices[i - 1] {
                    least = least.min(self.between(i, a, b).map_or(f64::INFINITY, |c| c + alone));
                }
            }
            ahead[i] = ahead[i + 1] + least;
        }
        ahead
    }

    /// The least cost of all ways. Every way is tried, except those that cannot become cheaper than one found
    /// because what they have cost so far and the least that each further note costs is too much already.
    pub fn least(&self) -> f64 {
        let ahead = self.ahead();
        let mut best = f64::INFINITY;
        let mut way = Vec::new();
        self.dive(&mut way, 0.0, &ahead, &mut best);
        best
    }

    fn dive(&self, way: &mut Vec<Way>, so_far: f64, ahead: &[f64], best: &mut f64) {
        let i = way.len();
        if i == self.choices.len() {
            *best = best.min(so_far);
            return;
        }
        for &b in &self.choices[i] {
            let step = if i == 0 { Some(0.0) } else { self.between(i, way[i - 1], b) };
            let Some(step) = step else { continue };
            let cost = so_far + step + self.alone(i, b);
            if cost + ahead[i + 1] < *best {
                way.push(b);
                self.dive(way, cost, ahead, best);
                way.pop();
            }
        }
    }

    /// The notes of each passage: those with more than one string to lie on, bar by bar, at least four together.
    fn passages(&self) -> Vec<Vec<usize>> {
        let mut passages: Vec<Vec<usize>> = Vec::new();
        let mut now: Vec<usize> = Vec::new();
        for i in 0..self.choices.len() {
            if now.len() >= 4 && now.last().is_some_and(|&l| self.line.bar[l] != self.line.bar[i]) {
                // The passage is full when the next note with a choice stands in another bar.
                if self.strings(i) > 1 && !self.line.dead(i) {
                    passages.push(std::mem::take(&mut now));
                }
            }
            if self.strings(i) > 1 && !self.line.dead(i) {
                now.push(i);
            }
        }
        match passages.last_mut() {
            Some(last) if now.len() < 4 => last.extend(now),
            _ => passages.push(now),
        }
        passages.retain(|p| !p.is_empty());
        passages
    }

    fn strings(&self, i: usize) -> usize {
        let strings: std::collections::BTreeSet<u8> = self.choices[i].iter().map(|w| w.0).collect();
        strings.len()
    }

    /// True when two ways are two choices; a way is given by its strings.
    pub fn differ(passages: &[Vec<usize>], a: &[u8], b: &[u8]) -> bool {
        passages.iter().any(|p| 2 * p.iter().filter(|&&i| a[i] != b[i]).count() >= p.len())
    }

    /// A choice other than all `earlier` ones that costs less than `than`, if there is one: every choice of strings
    /// is gone through, except beginnings that cost too much already.
    pub fn overlooked(&self, earlier: &[Vec<u8>], than: f64) -> Option<f64> {
        let n = self.choices.len();
        let ahead = self.ahead();
        let passages = self.passages();
        // Beginnings: their strings, and the least cost for each way of the last note.
        let mut begun: Vec<Begun> = vec![(Vec::new(), Vec::new())];
        for i in 0..n {
            let mut next = Vec::new();
            for (strings, last) in &begun {
                for string in 1..=self.neck.string_count() {
                    let mut here: Vec<(Way, f64)> = Vec::new();
                    for &b in self.choices[i].iter().filter(|w| w.0 == string) {
                        let alone = self.alone(i, b);
                        let reach = last
                            .iter()
                            .filter_map(|&(a, cost)| Some(cost + self.between(i, a, b)?))
                            .fold(if i == 0 { 0.0 } else { f64::INFINITY }, f64::min);
                        if reach + alone + ahead[i + 1] < than {
                            here.push((b, reach + alone));
                        }
                    }
                    if !here.is_empty() {
                        next.push(([strings.as_slice(), &[string]].concat(), here));
                    }
                }
            }
            begun = next;
        }
        let mut costs: Vec<f64> = begun
            .iter()
            .filter(|(strings, _)| earlier.iter().all(|e| Self::differ(&passages, e, strings)))
            .flat_map(|(_, last)| last.iter().map(|l| l.1))
            .collect();
        costs.sort_by(f64::total_cmp);
        costs.first().copied()
    }

    /// What is wrong with the choices that a fit gave, if anything.
    pub fn judge(
        riff: &Riff,
        neck: &'a Neck,
        hand: &'a Hand,
        wanted: usize,
        found: &[Fit],
    ) -> Result<(), String> {
        let oracle = Self::new(riff, neck, hand);
        let passages = oracle.passages();
        let mut earlier: Vec<Vec<u8>> = Vec::new();
        for (k, fit) in found.iter().enumerate() {
            let way = ways_of(fit);
            for (i, step) in way.iter().enumerate() {
                if !oracle.choices[i].contains(step) {
                    return Err(format!("choice {k}: note {i} cannot be played as {step:?}"));
                }
            }
            let cost = oracle.cost(&way).ok_or(format!("choice {k} cannot be played"))?;
            if (cost - fit.cost).abs() > 1e-7 {
                return Err(format!("choice {k} costs {cost} and not {}", fit.cost));
            }
            let strings: Vec<u8> = way.iter().map(|w| w.0).collect();
            if !earlier.iter().all(|e| Self::differ(&passages, e, &strings)) {
                return Err(format!("choice {k} is one that there was before"));
            }
            if let Some(less) = oracle.overlooked(&earlier, fit.cost - 1e-7) {
                return Err(format!("choice {k} costs {} and there is one for {less}", fit.cost));
            }
            earlier.push(strings);
        }
        if found.len() < wanted
            && let Some(cost) = oracle.overlooked(&earlier, f64::INFINITY)
        {
            return Err(format!("{} choices were given and there is another for {cost}", found.len()));
        }
        Ok(())
    }
}

pub fn ways_of(fit: &Fit) -> Vec<Way> {
    fit.notes.iter().map(|n| (n.place.string, n.place.fret, n.finger, n.position)).collect()
}

/// A random line inside the neck: steps and leaps, repeats, rests, marks, written places.
pub fn line(dice: &mut Dice, neck: &Neck, longest: u64) -> Riff {
    let (low, high) = neck.range();
    let span = u64::from(high - low);
    let mut midi = low + dice.below(span + 1) as u8;
    let mut notes = Vec::new();
    for i in 0..1 + dice.below(longest) {
        if dice.one_in(6) {
            notes.push(None);
        }
        let leap = if dice.one_in(4) { 12 } else { 5 };
        let next = i64::from(midi) + dice.below(2 * leap + 1) as i64 - leap as i64;
        midi = next.clamp(i64::from(low), i64::from(high)) as u8;
        let mut note = midi_note(midi);
        if i > 0 {
            note.approach = match dice.below(12) {
                0 => Approach::Hammer,
                1 => Approach::Pull,
                2 => Approach::Slide,
                3 => Approach::SlidePlucked,
                _ => Approach::Plucked,
            };
        }
        if dice.one_in(12) {
            note.marks = note.marks.with(Mark::Dead);
        } else if dice.one_in(10) {
            let places = neck.places(note.pitch.midi());
            note.place = Some(places[dice.below(places.len() as u64) as usize]);
        }
        if dice.one_in(15) {
            note.bend = 2;
        }
        notes.push(Some(note));
    }
    let shape = [Shape::Quarter, Shape::Eighth, Shape::Sixteenth][dice.below(3) as usize];
    let riff = riff_of(shape, &notes);
    let mut header = riff.header().clone();
    header.tempo = Tempo::quarters(40.0 + dice.below(140) as f64).unwrap();
    riff.with_header(header)
}

pub fn hand(dice: &mut Dice) -> Hand {
    let size = [HandSize::Small, HandSize::Medium, HandSize::Medium, HandSize::Large][dice.below(4) as usize];
    let hand = Hand::sized(size);
    let plucking = [Plucking::Any, Plucking::Alternating, Plucking::Raking][dice.below(3) as usize];
    let level = [Level::Beginner, Level::Intermediate, Level::Advanced][dice.below(3) as usize];
    let open = [OpenStrings::Welcome, OpenStrings::Sparing, OpenStrings::Refused][dice.below(3) as usize];
    hand.with_level(level)
        .with_open_strings(open)
        .with_plucking(plucking)
        .with_switch_fret(1 + dice.below(9) as u8)
}

pub fn necks() -> Vec<Neck> {
    let mut necks: Vec<Neck> =
        ["four", "five", "drop-d", "short", "bead"].iter().map(|n| Neck::named(n).unwrap()).collect();
    let few = |strings: &str, frets, scale| {
        let strings = strings.split(' ').map(|s| s.parse().unwrap()).collect();
        Neck::new("few frets", strings, frets, scale).unwrap()
    };
    necks.push(few("C3 G2 D2 A1 E1 B0", 9, 900.0));
    necks.push(few("G2 D2 A1 E1", 5, 762.0));
    necks
}
