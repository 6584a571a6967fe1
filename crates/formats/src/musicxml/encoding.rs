//! Bytes to text: UTF-8 and UTF-16 with or without a byte order mark, and the single-byte sets that old
//! exporters declare (XML 1.0, appendix F).

use super::MusicXmlError;

/// The text of an XML document, without its byte order mark.
pub(super) fn decode(bytes: &[u8]) -> Result<String, MusicXmlError> {
    match bytes {
        [0xef, 0xbb, 0xbf, rest @ ..] => utf8(rest, 3),
        [0xfe, 0xff, rest @ ..] => utf16(rest, u16::from_be_bytes, 2),
        [0xff, 0xfe, rest @ ..] => utf16(rest, u16::from_le_bytes, 2),
        [0, b'<', 0, ..] => utf16(bytes, u16::from_be_bytes, 0),
        [b'<', 0, _, 0, ..] => utf16(bytes, u16::from_le_bytes, 0),
        _ => match declared(bytes).as_deref() {
            None | Some("utf-8" | "utf8" | "us-ascii" | "ascii") => utf8(bytes, 0),
            // Windows-1252 differs from Latin 1 in 0x80 to 0x9f only: typographic quotes and dashes.
            Some("iso-8859-1" | "latin1" | "latin-1" | "windows-1252" | "cp1252") => {
                Ok(bytes.iter().map(|&b| char::from(b)).collect())
            }
            // Declared so, but not written so: the bytes decide.
            Some("utf-16" | "utf-16le" | "utf-16be") => utf8(bytes, 0),
            Some(other) => Err(MusicXmlError::Encoding {
                byte: 0,
                message: format!("the encoding '{other}' is not known; save the file as UTF-8"),
            }),
        },
    }
}

/// The encoding named in the XML declaration, lower case.
fn declared(bytes: &[u8]) -> Option<String> {
    let head: String = bytes.iter().take(200).map(|&b| char::from(b)).collect();
    let head = head.strip_prefix("<?xml")?.split_once("?>")?.0.to_owned();
    let after = head.split_once("encoding")?.1.trim_start().strip_prefix('=')?.trim_start();
    let quote = after.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    let name = after.get(1..)?.split(quote).next()?;
    Some(name.trim().to_lowercase())
}

fn utf8(bytes: &[u8], skipped: usize) -> Result<String, MusicXmlError> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.to_owned()),
        Err(e) => Err(MusicXmlError::Encoding {
            byte: skipped + e.valid_up_to(),
            message: "this byte is not UTF-8; the file is damaged or declares no other encoding".to_owned(),
        }),
    }
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16, skipped: usize) -> Result<String, MusicXmlError> {
    let mut text = String::with_capacity(bytes.len() / 2);
    let mut at = skipped;
    let units = bytes.chunks(2).map(|pair| match pair {
        [a, b] => unit([*a, *b]),
        _ => 0xd800, // half a unit at the end: as wrong as half a surrogate pair
    });
    for decoded in char::decode_utf16(units) {
        match decoded {
            Ok(c) => {
                at += c.len_utf16() * 2;
                text.push(c);
            }
            Err(_) => {
                return Err(MusicXmlError::Encoding {
                    byte: at,
                    message: "this is not UTF-16: half a character; the file is damaged".to_owned(),
                });
            }
        }
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_way_of_writing_the_same_text() {
        let text = "<?xml version=\"1.0\"?><a>♭é</a>";
        let be: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let le: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        for bytes in [
            text.as_bytes().to_vec(),
            [&[0xef, 0xbb, 0xbf], text.as_bytes()].concat(),
            [&[0xfe, 0xff], be.as_slice()].concat(),
            [&[0xff, 0xfe], le.as_slice()].concat(),
            be,
            le,
        ] {
            assert_eq!(decode(&bytes).unwrap(), text);
        }
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?><a>\xe9</a>";
        assert!(decode(latin).unwrap().ends_with("<a>é</a>"));
    }

    #[test]
    fn damage_is_found_at_its_byte() {
        assert!(matches!(decode(b"<a>\xff</a>"), Err(MusicXmlError::Encoding { byte: 3, .. })));
        assert!(matches!(decode(&[0xfe, 0xff, 0, b'<', 0xd8]), Err(MusicXmlError::Encoding { byte: 4, .. })));
        let koi = b"<?xml version='1.0' encoding='KOI8-R'?><a/>";
        assert!(decode(koi).unwrap_err().to_string().contains("koi8-r"));
    }
}
