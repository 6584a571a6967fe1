//! What riffs share: degrees, hand shape, intervals, rhythm; and an index that finds it among a million.
