//! Made-up inputs of a given size, each built to hurt a parser that is careless in one way: quadratic in the number
//! of notes, recursive in the depth of elements, trusting in a length or a ratio that the input states.

/// A giant: its name and its bytes.
type Giant = (String, Vec<u8>);

/// The giants for a target, each at most `size` bytes.
pub(crate) fn of_target(target: &str, size: usize) -> Vec<Giant> {
    let mut giants = anybodys(size);
    giants.extend(match target {
        "riff_text" => riff_text(size),
        "tab_text" => tab_text(size),
        "musicxml" => musicxml(size),
        "mxl" => mxl(size),
        "midi" => midi(size),
        "audio_file" => audio_file(size),
        "any_file" => [riff_text(size), tab_text(size), musicxml(size), midi(size)].concat(),
        _ => Vec::new(),
    });
    giants
}

/// What every parser gets: the same byte over and over, and noise.
fn anybodys(size: usize) -> Vec<Giant> {
    let mut giants: Vec<Giant> = [0, b' ', b'\n', b'0', b'(', b'<', 0xFF]
        .into_iter()
        .map(|byte| (format!("all-{byte:02x}"), vec![byte; size]))
        .collect();
    // Linear congruential generator with the multiplier of Knuth's MMIX (The Art of Computer Programming, volume 2,
    // 3.3.4, table 1); any noise would do.
    let mut state = 1_u64;
    let noise = (0..size)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 56) as u8
        })
        .collect();
    giants.push(("noise".to_owned(), noise));
    giants
}

/// `head`, then `body` as often as it fits, then `tail`, in at most `size` bytes.
fn filled(head: &[u8], body: &[u8], tail: &[u8], size: usize) -> Vec<u8> {
    let room = size.saturating_sub(head.len() + tail.len());
    let mut bytes = head.to_vec();
    bytes.extend(body.iter().copied().cycle().take(room / body.len() * body.len()));
    bytes.extend(tail);
    bytes
}

fn text(name: &str, head: &str, body: &str, tail: &str, size: usize) -> Giant {
    (name.to_owned(), filled(head.as_bytes(), body.as_bytes(), tail.as_bytes(), size))
}

fn riff_text(size: usize) -> Vec<Giant> {
    let key = "key: D\n";
    vec![
        text("bars", key, "| q 1 b3 4 5 ", "||\n", size),
        text("lines", key, "| q 1 b3 4 5 |\n", "", size),
        text("one-bar", "key: D\nmeter: 4/4\n| ", "e3 1 ", "||\n", size),
        text("one-word", key, "b", "\n", size),
        text("one-length", "key: D\n| e", "9", " 1 |\n", size),
        text("octaves", "key: D\n| w 1", "+", " |\n", size),
        text("ties", "key: D\n| w 1 ", "| = ", "||\n", size),
        text("pickups", key, "[pickup] ", "| w 1 ||\n", size),
        text("meters", key, "[meter 2+2+3/8] e 1 1 1 1 1 1 1 | ", "w 1 ||\n", size),
        text("meter-terms", "key: D\n[meter 2", "+2", "/8] e 1 |\n", size),
        text("tempi", "key: D\n| ", "[tempo 90] ", "w 1 ||\n", size),
        text("chords", "key: D\n| ", "<Dm7 @1/3> ", "w 1 ||\n", size),
        text("marks", "key: D\n| w 1 ", "(accent) ", "||\n", size),
        text("repeats", key, "|: w 1 :| x255 ", "||\n", size),
        text("endings", "key: D\n|: w 1 |1st", ",2nd", " 2 :|\n", size),
        text("brackets", "key: D\n| ", "[", "", size),
        text("remarks", "key: D\n", "remark: x\n", "", size),
        text("typist", "key: D\n", "// x\n", "| w 1 ||\n", size),
    ]
}

fn tab_text(size: usize) -> Vec<Giant> {
    let quarter = size / 4 - 8;
    let long: String = ["G|", "D|", "A|", "E|"]
        .iter()
        .map(|name| format!("{name}{}|\n", "-3".repeat(quarter / 2)))
        .collect();
    vec![
        ("long-lines".to_owned(), long.into_bytes()),
        text("systems", "", "G|--------|\nD|--------|\nA|--2-3---|\nE|3-----0-|\n\n", "", size),
        text("one-string", "E|", "3", "|\n", size),
        text("only-names", "", "E|\n", "", size),
        text("slides", "G|", "3/5\\3h5p3~", "|\n", size),
    ]
}

const XML_HEAD: &str = "<?xml version=\"1.0\"?><score-partwise version=\"4.0\"><part-list><score-part id=\"P1\">\
    <part-name>x</part-name></score-part></part-list><part id=\"P1\">";
const XML_BAR: &str = "<measure number=\"1\"><attributes><divisions>1</divisions><time><beats>4</beats>\
    <beat-type>4</beat-type></time></attributes>";
const XML_NOTE: &str =
    "<note><pitch><step>E</step><octave>2</octave></pitch><duration>1</duration><type>quarter</type></note>";

fn musicxml(size: usize) -> Vec<Giant> {
    let bar_head = format!("{XML_HEAD}{XML_BAR}");
    let bars = format!("{XML_HEAD}{XML_BAR}</measure>");
    let end = "</measure></part></score-partwise>";
    let bar = format!("<measure number=\"2\">{}</measure>", XML_NOTE.repeat(4));
    let doctype = "<?xml version=\"1.0\"?><!DOCTYPE x [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\">\
        <!ENTITY c \"&b;&b;&b;&b;&b;&b;&b;&b;\"><!ENTITY d \"&c;&c;&c;&c;&c;&c;&c;&c;\">]><score-partwise><x>";
    let tied = XML_NOTE.replace("<type>", "<tie type=\"start\"/><type>");
    let graces = XML_NOTE.replace("<duration>1</duration>", "").replace("<note>", "<note><grace/>");
    let chords = XML_NOTE.replace("<note>", "<note><chord/>");
    let backups = format!("{XML_NOTE}<backup><duration>1</duration></backup>");
    let repeats = "<measure number=\"2\"><barline location=\"left\"><repeat direction=\"forward\"/></barline>\
        <barline location=\"right\"><repeat direction=\"backward\" times=\"999999999\"/></barline></measure>";
    let slow = "<measure number=\"2\"><attributes><divisions>999999937</divisions></attributes>\
        <note><rest/><duration>999999929</duration></note></measure>";
    vec![
        text("deep", XML_HEAD, "<x>", "", size),
        text("deep-closed", "", "<x></x>", "", size),
        text("bars", &bars, &bar, "</part></score-partwise>", size),
        text("one-bar", &bar_head, XML_NOTE, end, size),
        text("tied", &bar_head, &tied, end, size),
        text("graces", &bar_head, &graces, end, size),
        text("chord", &format!("{bar_head}{XML_NOTE}"), &chords, end, size),
        text("backups", &bar_head, &backups, end, size),
        text("repeats", &bars, repeats, "</part></score-partwise>", size),
        text("divisions", &bars, slow, "</part></score-partwise>", size),
        text("parts", "<score-partwise><part-list/>", "<part id=\"P\"/>", "</score-partwise>", size),
        text("entities", doctype, "&d;", "</x></score-partwise>", size),
        text("attributes", "<score-partwise", " a=\"\"", "/>", size),
        text("one-attribute", "<score-partwise a=\"", "x", "\"/>", size),
        text("one-comment", "<score-partwise><!--", "-x", "--></score-partwise>", size),
        text(
            "one-text",
            "<score-partwise><work><work-title>",
            "&amp;",
            "</work-title></work></score-partwise>",
            size,
        ),
    ]
}

/// Compressed MusicXML whose parts unpack to far more than they weigh, or of which there are far too many.
fn mxl(size: usize) -> Vec<Giant> {
    let container = b"<container><rootfiles><rootfile full-path=\"a.xml\"/></rootfiles></container>";
    let bomb = deflated_spaces(size - 1024);
    let mut many = Zip::default();
    while many.bytes.len() + many.directory.len() + 256 < size {
        many.add(&format!("{}", many.count % 1000), b"", 0, 0);
    }
    let mut in_score = Zip::default();
    in_score.add("META-INF/container.xml", container, 0, container.len());
    in_score.add("a.xml", &bomb.0, 8, bomb.1);
    let mut in_container = Zip::default();
    in_container.add("META-INF/container.xml", &bomb.0, 8, bomb.1);
    let mut liar = Zip::default();
    liar.add("META-INF/container.xml", container, 0, container.len());
    liar.add("a.xml", &bomb.0, 8, 10);
    vec![
        ("bomb".to_owned(), in_score.finished()),
        ("bomb-container".to_owned(), in_container.finished()),
        ("bomb-that-lies".to_owned(), liar.finished()),
        ("entries".to_owned(), many.finished()),
        ("ends".to_owned(), filled(b"PK\x03\x04", b"PK\x05\x06", b"", size)),
    ]
}

/// A zip archive in the making (PKWARE APPNOTE 6.3, sections 4.3.7, 4.3.12 and 4.3.16). Entries that are deflated get
/// no check sum: a reader that gets as far as comparing it has unpacked everything already.
#[derive(Default)]
struct Zip {
    bytes: Vec<u8>,
    directory: Vec<u8>,
    count: u16,
}

impl Zip {
    fn add(&mut self, name: &str, data: &[u8], method: u16, unpacked: usize) {
        let place = self.bytes.len() as u32;
        let mut common = Vec::new();
        common.extend([20, 0, 0, 0]); // version needed, flags
        common.extend(method.to_le_bytes());
        common.extend([0; 4]); // time, date
        common.extend(if method == 0 { crc32(data) } else { 0 }.to_le_bytes());
        common.extend((data.len() as u32).to_le_bytes());
        common.extend((unpacked as u32).to_le_bytes());
        common.extend((name.len() as u16).to_le_bytes());
        common.extend([0, 0]); // no extra field
        self.bytes.extend(b"PK\x03\x04");
        self.bytes.extend(&common);
        self.bytes.extend(name.as_bytes());
        self.bytes.extend(data);
        self.directory.extend(b"PK\x01\x02\x14\0");
        self.directory.extend(&common);
        self.directory.extend([0; 10]); // no comment, first disk, no attributes
        self.directory.extend(place.to_le_bytes());
        self.directory.extend(name.as_bytes());
        self.count = self.count.saturating_add(1);
    }

    fn finished(mut self) -> Vec<u8> {
        let place = self.bytes.len() as u32;
        self.bytes.extend(&self.directory);
        self.bytes.extend(b"PK\x05\x06\0\0\0\0");
        self.bytes.extend(self.count.to_le_bytes());
        self.bytes.extend(self.count.to_le_bytes());
        self.bytes.extend((self.directory.len() as u32).to_le_bytes());
        self.bytes.extend(place.to_le_bytes());
        self.bytes.extend([0, 0]);
        self.bytes
    }
}

/// A raw deflate stream (RFC 1951, 3.2.6) of about `size` bytes that unpacks to nothing but spaces, over a hundred and
/// fifty times as many; with the unpacked length.
fn deflated_spaces(size: usize) -> (Vec<u8>, usize) {
    let mut bits = Bits::default();
    bits.put(0b011, 3); // last block, fixed codes
    bits.put_code(0x30 + u32::from(b' '), 8);
    let mut unpacked = 1;
    while bits.bytes.len() + 8 < size {
        bits.put_code(0b1100_0101, 8); // length 258
        bits.put_code(0, 5); // distance 1
        unpacked += 258;
    }
    bits.put_code(0, 7); // end of block
    bits.bytes.push(bits.open as u8);
    (bits.bytes, unpacked)
}

#[derive(Default)]
struct Bits {
    bytes: Vec<u8>,
    open: u32,
    held: u32,
}

impl Bits {
    fn put(&mut self, value: u32, width: u32) {
        self.open |= value << self.held;
        self.held += width;
        while self.held >= 8 {
            self.bytes.push(self.open as u8);
            self.open >>= 8;
            self.held -= 8;
        }
    }

    /// Huffman codes are packed starting from their most significant bit (RFC 1951, 3.1.1).
    fn put_code(&mut self, code: u32, width: u32) {
        self.put(code.reverse_bits() >> (32 - width), width);
    }
}

fn midi(size: usize) -> Vec<Giant> {
    let one_track = |body: &[u8]| {
        let mut head = b"MThd\0\0\0\x06\0\x01\0\x01\x01\xE0MTrk".to_vec();
        head.extend(((size - 30) as u32).to_be_bytes());
        filled(&head, body, b"\0\xFF\x2F\0", size)
    };
    let named = |name: &str, bytes: Vec<u8>| (name.to_owned(), bytes);
    let empty_track = b"MTrk\0\0\0\x04\0\xFF\x2F\0";
    vec![
        named("at-once", one_track(b"\0\x90\x28\x40\0\x80\x28\x40")),
        named("never-off", one_track(b"\x01\x90\x28\x40")),
        named("never-on", one_track(b"\x01\x80\x28\x40")),
        named("far-apart", one_track(b"\xFF\xFF\xFF\x7F\x90\x28\x40\xFF\xFF\xFF\x7F\x80\x28\x40")),
        named("tempos", one_track(b"\x01\xFF\x51\x03\0\0\0\x01\xFF\x51\x03\xFF\xFF\xFF")),
        named("meters", one_track(b"\x01\xFF\x58\x04\xFF\xFF\0\0\x01\xFF\x58\x04\0\0\0\0")),
        named("running", one_track(b"\x01\x90\x28\x40\x01\x28\0\x01\x29\x40\x01\x29\0\x03\x2A\x40")),
        named("chord", one_track(&(0..128).flat_map(|n| [0, 0x90, n, 0x40]).collect::<Vec<u8>>())),
        named("tracks", filled(b"MThd\0\0\0\x06\0\x01\xFF\xFF\x01\xE0", empty_track, b"", size)),
        named(
            "no-division",
            filled(b"MThd\0\0\0\x06\0\0\0\x01\0\0MTrk\0\x0F\0\0", b"\x01\x90\x28\x40\x01\x28\0", b"", size),
        ),
        named("texts", one_track(b"\0\xFF\x01\x04abcd")),
    ]
}

fn audio_file(size: usize) -> Vec<Giant> {
    let wav = |kind: u16, channels: u16, rate: u32, width: u16, align: u16| {
        let mut head = b"RIFF".to_vec();
        head.extend((size as u32 - 8).to_le_bytes());
        head.extend(b"WAVEfmt \x10\0\0\0");
        head.extend(kind.to_le_bytes());
        head.extend(channels.to_le_bytes());
        head.extend(rate.to_le_bytes());
        head.extend(rate.wrapping_mul(u32::from(align)).to_le_bytes());
        head.extend(align.to_le_bytes());
        head.extend(width.to_le_bytes());
        head.extend(b"data");
        head.extend((size as u32 - 44).to_le_bytes());
        filled(&head, &[0x7F, 0x81], b"", size)
    };
    let named = |name: &str, bytes: Vec<u8>| (name.to_owned(), bytes);
    vec![
        named("wav-8-bit", wav(1, 1, 8_000, 8, 1)),
        named("wav-a-hertz", wav(1, 1, 1, 8, 1)),
        named("wav-fast", wav(1, 1, u32::MAX, 8, 1)),
        named("wav-many-channels", wav(1, 32, 48_000, 8, 32)),
        named("wav-float", wav(3, 2, 48_000, 32, 8)),
        named("wav-no-align", wav(1, 1, 48_000, 16, 0)),
        named("wav-chunks", filled(b"RIFF\0\0\x10\0WAVE", b"junk\0\0\0\0", b"", size)),
        named("flac-silence", flac_silence(size)),
        named("mp3-frames", filled(b"", &mp3_silence(), b"", size)),
        named("ogg-pages", filled(b"", b"OggS\0\x02\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0", b"", size)),
        named("mp4-boxes", filled(b"\0\0\0\x18ftypM4A \0\0\0\0M4A isom", b"\0\0\0\x08moov", b"", size)),
    ]
}

/// FLAC (RFC 9639) of constant subframes: frames of 65,535 equal samples in 14 bytes, check sums included, so that
/// a megabyte unpacks to hours.
fn flac_silence(size: usize) -> Vec<u8> {
    let mut bytes = b"fLaC\x80\0\0\x22".to_vec();
    bytes.extend([0xFF, 0xFF, 0xFF, 0xFF, 0, 0, 0, 0, 0, 0]); // block sizes alike, frame sizes unknown
    bytes.extend([0x0A, 0xC4, 0x40, 0xF0, 0, 0, 0, 0]); // 44,100 Hz, one channel, 16 bits, length unknown
    bytes.extend([0; 16]);
    let mut number = 0_u32;
    while bytes.len() + 24 < size {
        let start = bytes.len();
        bytes.extend([0xFF, 0xF8, 0x79, 0x08]); // 16-bit block size at the end, 44,100 Hz, mono, 16 bits
        let mut coded = [0; 4];
        // The frame number is coded as UTF-8 would code it; below the surrogates that is what `char` gives.
        let character = char::from_u32(number % 0xD800).unwrap_or('\0');
        bytes.extend(character.encode_utf8(&mut coded).as_bytes());
        bytes.extend([0xFF, 0xFE]); // 65,535 samples
        bytes.push(crc8(&bytes[start..]));
        bytes.extend([0, 0, 0]); // constant subframe, value 0
        let sum = crc16(&bytes[start..]);
        bytes.extend(sum.to_be_bytes());
        number += 1;
    }
    bytes
}

/// APPNOTE 4.4.7: the polynomial of IEEE 802.3, bits reversed.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |sum, byte| {
        (0..8).fold(sum ^ u32::from(*byte), |s, _| if s & 1 == 0 { s >> 1 } else { (s >> 1) ^ 0xEDB8_8320 })
    })
}

/// RFC 9639, 9.1.8: polynomial x^8 + x^2 + x + 1.
fn crc8(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| {
        (0..8).fold(sum ^ byte, |s, _| if s & 0x80 == 0 { s << 1 } else { (s << 1) ^ 0x07 })
    })
}

/// RFC 9639, 9.3: polynomial x^16 + x^15 + x^2 + 1.
fn crc16(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0, |sum, byte| {
        (0..8).fold(
            sum ^ (u16::from(*byte) << 8),
            |s, _| if s & 0x8000 == 0 { s << 1 } else { (s << 1) ^ 0x8005 },
        )
    })
}

/// One frame of silence: MPEG 2 layer III, 8 kbit/s, 24 kHz, mono (ISO/IEC 13818-3): 24 bytes.
fn mp3_silence() -> Vec<u8> {
    let mut frame = vec![0xFF, 0xF3, 0x14, 0xC4];
    frame.resize(24, 0);
    frame
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn giants_fill_their_size_and_never_pass_it() {
        for target in ["riff_text", "tab_text", "musicxml", "mxl", "midi", "audio_file", "any_file"] {
            let giants = of_target(target, 1 << 16);
            assert!(giants.len() > 12, "{target}");
            for (name, bytes) in giants {
                assert!(bytes.len() <= 1 << 16 && bytes.len() > 60_000, "{target} {name}: {}", bytes.len());
            }
        }
    }

    #[test]
    fn checksums_are_those_of_the_catalogue() {
        // "123456789" is the customary probe: CRC-8/SMBUS gives F4, CRC-16/UMTS FEE8,
        // CRC-32/ISO-HDLC CBF43926 (Cook's catalogue of parametrised CRC algorithms; from memory).
        assert_eq!(crc8(b"123456789"), 0xF4);
        assert_eq!(crc16(b"123456789"), 0xFEE8);
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    }

    #[test]
    fn spaces_unpack_to_a_hundred_and_fifty_times_their_size() {
        let (packed, unpacked) = deflated_spaces(10_000);
        assert!(packed.len() <= 10_000 && unpacked > 150 * packed.len());
    }
}
