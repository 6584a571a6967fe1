//! Just enough of Rust's grammar to look at code without its comments, strings and unit tests.

/// The same text with every comment, string and character literal turned into spaces. Lines stay where they
/// are, so a place in the result is a place in the source.
pub(crate) fn code_only(source: &str) -> String {
    let chars: Vec<char> = source.chars().collect();
    let mut out = String::with_capacity(source.len());
    let mut at = 0;
    while at < chars.len() {
        let end = literal_or_comment_end(&chars, at);
        if end == at {
            out.push(chars[at]);
            at += 1;
        } else {
            out.extend(chars[at..end].iter().map(|c| if *c == '\n' { '\n' } else { ' ' }));
            at = end;
        }
    }
    out
}

/// Where the comment or literal that starts at `at` ends; `at` itself when none starts there.
fn literal_or_comment_end(chars: &[char], at: usize) -> usize {
    let look = |offset: usize| chars.get(at + offset).copied().unwrap_or('\0');
    match look(0) {
        '/' if look(1) == '/' => find(chars, at, |c| c == '\n'),
        '/' if look(1) == '*' => block_comment_end(chars, at),
        '"' => string_end(chars, at),
        'r' | 'b' | 'c' if at == 0 || !is_word(chars[at - 1]) => prefixed_string_end(chars, at),
        '\'' => char_end(chars, at),
        _ => at,
    }
}

fn find(chars: &[char], from: usize, wanted: impl Fn(char) -> bool) -> usize {
    chars[from..].iter().position(|c| wanted(*c)).map_or(chars.len(), |ahead| from + ahead)
}

fn block_comment_end(chars: &[char], at: usize) -> usize {
    let (mut depth, mut i) = (0_usize, at);
    while i < chars.len() {
        match (chars[i], chars.get(i + 1)) {
            ('/', Some('*')) => {
                depth += 1;
                i += 2;
            }
            ('*', Some('/')) => {
                depth -= 1;
                i += 2;
                if depth == 0 {
                    return i;
                }
            }
            _ => i += 1,
        }
    }
    chars.len()
}

fn string_end(chars: &[char], at: usize) -> usize {
    let mut i = at + 1;
    while i < chars.len() {
        match chars[i] {
            '\\' => i += 2,
            '"' => return i + 1,
            _ => i += 1,
        }
    }
    chars.len()
}

/// `r"…"`, `r#"…"#`, `b"…"`, `br"…"`, `c"…"`; `at` when the letters are only the start of a name.
fn prefixed_string_end(chars: &[char], at: usize) -> usize {
    let mut i = at;
    while i < chars.len() && i - at < 2 && matches!(chars[i], 'r' | 'b' | 'c') {
        i += 1;
    }
    let raw = chars[at..i].contains(&'r');
    let hashes = if raw { find(chars, i, |c| c != '#') - i } else { 0 };
    match chars.get(i + hashes) {
        Some('"') if raw => {
            let mut j = i + hashes + 1;
            while j < chars.len() {
                let closing = chars[j] == '"' && chars[j + 1..].iter().take(hashes).all(|c| *c == '#');
                if closing && chars.len() > j + hashes {
                    return j + 1 + hashes;
                }
                j += 1;
            }
            chars.len()
        }
        Some('"') => string_end(chars, i),
        _ => at,
    }
}

/// A character literal; a lifetime such as `'a` is none and gives `at`.
fn char_end(chars: &[char], at: usize) -> usize {
    if chars.get(at + 1) == Some(&'\\') {
        let close = find(chars, at + 3, |c| c == '\'');
        return (close + 1).min(chars.len());
    }
    if chars.get(at + 2) == Some(&'\'') { at + 3 } else { at }
}

fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// Blanks every item under `#[cfg(test)]` in text that [`code_only`] gave.
pub(crate) fn without_tests(code: &str) -> String {
    const MARK: &str = "#[cfg(test)]";
    let mut out = code.to_owned();
    while let Some(start) = out.find(MARK) {
        let body = &out[start..];
        let open = body.find('{');
        let plain_end = body.find(';');
        let end = match (open, plain_end) {
            (Some(open), semicolon) if semicolon.is_none_or(|at| open < at) => matching_brace(body, open),
            (_, Some(semicolon)) => semicolon + 1,
            _ => body.len(),
        };
        let blank: String = body[..end].chars().map(|c| if c == '\n' { '\n' } else { ' ' }).collect();
        out.replace_range(start..start + end, &blank);
    }
    out
}

/// The byte after the brace that closes the one at `open`.
fn matching_brace(text: &str, open: usize) -> usize {
    let mut depth = 0_usize;
    for (at, c) in text[open..].char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 1 => return open + at + 1,
            '}' => depth -= 1,
            _ => {}
        }
    }
    text.len()
}

/// Every path below `std::` that the code names, with its line: `use std::{fs, io::Read}` gives `fs` and
/// `io::Read`. A glob ends in `*`.
pub(crate) fn std_paths(code: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (at, _) in code.match_indices("std::") {
        let before = code[..at].chars().next_back();
        if before.is_some_and(is_word) {
            continue;
        }
        let line = line_of(code, at);
        let mut rest = &code[at + "std::".len()..];
        let mut paths = Vec::new();
        tree(&mut rest, String::new(), &mut paths, 0);
        found.extend(paths.into_iter().map(|path| (line, path)));
    }
    found
}

/// Reads one use-tree off the front of `rest` and adds the paths it stands for.
fn tree(rest: &mut &str, prefix: String, paths: &mut Vec<String>, depth: usize) {
    *rest = rest.trim_start();
    if let Some(inside) = rest.strip_prefix('{') {
        *rest = inside;
        if depth >= 16 {
            return;
        }
        loop {
            tree(rest, prefix.clone(), paths, depth + 1);
            // Skip a renaming (`as name`) and anything else up to the next branch.
            let next = rest.find([',', '}']).unwrap_or(rest.len());
            *rest = &rest[next..];
            match rest.chars().next() {
                Some(',') => *rest = &rest[1..],
                Some(_) => {
                    *rest = &rest[1..];
                    return;
                }
                None => return,
            }
        }
    }
    let length = rest.find(|c: char| !(is_word(c) || c == '*')).unwrap_or(rest.len());
    if length == 0 {
        return;
    }
    let path =
        if prefix.is_empty() { rest[..length].to_owned() } else { format!("{prefix}::{}", &rest[..length]) };
    *rest = &rest[length..];
    match rest.strip_prefix("::") {
        Some(deeper) if depth < 16 => {
            *rest = deeper;
            let before = paths.len();
            tree(rest, path.clone(), paths, depth + 1);
            if paths.len() == before {
                paths.push(path); // a turbofish or the like: the path ends here
            }
        }
        _ => paths.push(path),
    }
}

/// The line, counted from 1, in which byte `at` lies.
pub(crate) fn line_of(text: &str, at: usize) -> usize {
    text[..at].matches('\n').count() + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_strings_and_characters_vanish_and_lines_stay() {
        let source =
            "a // std::fs\n/* x /* y */\nstd::net */ b \"std::env\" 'c' r#\"std::fs \" \"# d<'l>\n'\\'' e";
        let code = code_only(source);
        assert_eq!(code.lines().count(), source.lines().count());
        assert!(!code.contains("std"));
        assert_eq!(code.split_whitespace().collect::<Vec<_>>(), ["a", "b", "d<'l>", "e"]);
    }

    #[test]
    fn a_name_that_starts_like_a_raw_string_is_a_name() {
        assert_eq!(code_only("let rb = br; bc(r)"), "let rb = br; bc(r)");
        assert_eq!(code_only("x(b\"no\\\"pe\", rest)").replace(' ', ""), "x(,rest)");
    }

    #[test]
    fn unit_tests_are_blanked_and_the_rest_is_kept() {
        let code = "fn a() {}\n#[cfg(test)]\nmod tests {\n fn b() { if x { y } }\n}\nfn c() {}\n#[cfg(test)]\nuse z;\nfn d() {}";
        let kept = without_tests(code);
        assert_eq!(kept.split_whitespace().collect::<String>(), "fna(){}fnc(){}fnd(){}");
        assert_eq!(kept.lines().count(), code.lines().count());
    }

    #[test]
    fn paths_are_found_in_every_way_of_writing_them() {
        let code = "use std::{fs, io::{self, Read}, time::*};\nlet x = std::env::var(y);\nmystd::fs; ::std::net::X;\nuse std::collections::BTreeMap as M;";
        let found = std_paths(code);
        let paths: Vec<&str> = found.iter().map(|(_, path)| path.as_str()).collect();
        assert_eq!(
            paths,
            ["fs", "io::self", "io::Read", "time::*", "env::var", "net::X", "collections::BTreeMap"]
        );
        assert_eq!(found[4].0, 2);
    }
}
