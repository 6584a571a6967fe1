//! Instants: the clock, and how they are written and read.

use std::time::{SystemTime, UNIX_EPOCH};

use riffkin_store::Moment;

/// Now. A clock that stands before 1970 counts as 1970.
pub fn now() -> Moment {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Moment(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

const DAY_MS: i64 = 86_400_000;

/// As `2026-11-24T18:05:09.250Z` (ISO 8601, RFC 3339): the Gregorian calendar, coordinated universal time. The calendar
/// is counted as in Hinnant 2013, *chrono-Compatible Low-Level Date Algorithms*, `civil_from_days`.
pub fn print(at: Moment) -> String {
    let (days, ms) = (at.0.div_euclid(DAY_MS), at.0.rem_euclid(DAY_MS));
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z.rem_euclid(146_097);
    let yoe = (doe - doe / 1_460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let day = doy - (153 * mp + 2) / 5 + 1;
    let month = if mp < 10 { mp + 3 } else { mp - 9 };
    let year = yoe + era * 400 + i64::from(month <= 2);
    let s = ms / 1_000;
    format!(
        "{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}.{:03}Z",
        s / 3_600,
        s / 60 % 60,
        s % 60,
        ms % 1_000
    )
}

/// As people read it: `2026-11-24 18:05 UTC`.
pub fn words(at: Moment) -> String {
    let text = print(at);
    match (
        text.get(..text.len().saturating_sub(14)),
        text.get(text.len().saturating_sub(13)..text.len().saturating_sub(8)),
    ) {
        (Some(date), Some(time)) => format!("{date} {time} UTC"),
        _ => text,
    }
}

/// Reads what [`print()`] writes (`days_from_civil` of the same source); `None` for anything else.
pub fn read(text: &str) -> Option<Moment> {
    let (date, time) = text.strip_suffix('Z')?.split_once('T')?;
    let mut date = date.rsplitn(3, '-');
    let mut next = |least: i64, most: i64| date.next()?.parse().ok().filter(|n| (least..=most).contains(n));
    let (day, month, year): (i64, i64, i64) = (next(1, 31)?, next(1, 12)?, next(-200_000_000, 200_000_000)?);
    let (clock, ms) = time.split_once('.')?;
    let mut clock = clock.split(':');
    let mut next = |most: i64| clock.next()?.parse().ok().filter(|n| (0..=most).contains(n));
    let (hour, minute, second): (i64, i64, i64) = (next(23)?, next(59)?, next(59)?);
    let ms: i64 = ms.parse().ok().filter(|ms| (0..1_000).contains(ms))?;
    let y = year - i64::from(month <= 2);
    let (era, yoe) = (y.div_euclid(400), y.rem_euclid(400));
    let doy = (153 * (if month > 2 { month - 3 } else { month + 9 }) + 2) / 5 + day - 1;
    let days = era * 146_097 + yoe * 365 + yoe / 4 - yoe / 100 + doy - 719_468;
    Some(Moment(days * DAY_MS + ((hour * 60 + minute) * 60 + second) * 1_000 + ms))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 3339, 5.8, gives the first as an example; the second is the start of the count; 951 782 400 s is the leap day
    /// of 2000 (`date -u -d @951782400`).
    #[test]
    fn instants_are_written_as_the_standard_writes_them() {
        for (ms, text) in [
            (482_196_050_520, "1985-04-12T23:20:50.520Z"),
            (0, "1970-01-01T00:00:00.000Z"),
            (951_782_400_000, "2000-02-29T00:00:00.000Z"),
            (-1, "1969-12-31T23:59:59.999Z"),
            (4_107_542_399_000, "2100-02-28T23:59:59.000Z"),
        ] {
            assert_eq!(print(Moment(ms)), text);
            assert_eq!(read(text), Some(Moment(ms)), "{text}");
        }
        for day in (-200_000..200_000).step_by(11) {
            let at = Moment(day * DAY_MS + 1);
            assert_eq!(read(&print(at)), Some(at));
        }
        assert_eq!(words(Moment(482_196_050_520)), "1985-04-12 23:20 UTC");
    }

    #[test]
    fn other_texts_are_no_instants() {
        for text in [
            "",
            "Z",
            "T",
            "2026-13-01T00:00:00.000Z",
            "2026-01-01",
            "2026-01-01T24:00:00.000Z",
            "x-1-1T1:1:1.1Z",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }
}
