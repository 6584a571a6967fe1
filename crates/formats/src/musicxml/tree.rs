//! An XML document as a flat table of elements: no recursion, bounded depth and size.
//!
//! Document type definitions are skipped, so no entity but the five of XML itself and character numbers is
//! ever expanded.

use std::borrow::Cow;
use std::collections::BTreeMap;

use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;

use super::MusicXmlError;

/// Deepest nesting accepted; MusicXML itself needs about a dozen.
const MAX_DEPTH: usize = 100;
/// Most elements accepted.
const MAX_ELEMENTS: usize = 4_000_000;
/// Most attributes of one element.
const MAX_ATTRIBUTES: usize = 200;
/// No element.
const NONE: u32 = u32::MAX;

struct Node {
    name: u32,
    first: u32,
    next: u32,
    line: u32,
    text: Box<str>,
    attributes: Box<[(u32, Box<str>)]>,
}

/// A whole document.
pub(super) struct Tree {
    nodes: Vec<Node>,
    names: Vec<Box<str>>,
}

/// One element of a [`Tree`].
#[derive(Clone, Copy)]
pub(super) struct Element<'t> {
    tree: &'t Tree,
    index: u32,
}

impl Tree {
    /// Reads a document.
    pub(super) fn parse(source: &str) -> Result<Self, MusicXmlError> {
        Builder::new(source).run()
    }

    /// The root element.
    pub(super) fn root(&self) -> Element<'_> {
        Element { tree: self, index: 0 }
    }
}

impl<'t> Element<'t> {
    fn node(self) -> &'t Node {
        &self.tree.nodes[self.index as usize]
    }

    /// The element's name.
    pub(super) fn name(self) -> &'t str {
        &self.tree.names[self.node().name as usize]
    }

    /// Its own text, blanks at both ends taken off.
    pub(super) fn text(self) -> &'t str {
        &self.node().text
    }

    /// The line it starts on, from 1.
    pub(super) fn line(self) -> u32 {
        self.node().line
    }

    /// An attribute's value.
    pub(super) fn attribute(self, name: &str) -> Option<&'t str> {
        let found = |(n, _): &&(u32, Box<str>)| &*self.tree.names[*n as usize] == name;
        self.node().attributes.iter().find(found).map(|(_, value)| &**value)
    }

    /// The elements in it, in order.
    pub(super) fn children(self) -> impl Iterator<Item = Element<'t>> {
        let mut next = self.node().first;
        std::iter::from_fn(move || {
            (next != NONE).then(|| {
                let child = Element { tree: self.tree, index: next };
                next = child.node().next;
                child
            })
        })
    }

    /// The elements of one name in it.
    pub(super) fn all(self, name: &str) -> impl Iterator<Item = Element<'t>> {
        self.children().filter(move |c| c.name() == name)
    }

    /// The first element of a name in it.
    pub(super) fn child(self, name: &str) -> Option<Element<'t>> {
        self.all(name).next()
    }

    /// The text of the first element of a name in it; `None` when it is missing or empty.
    pub(super) fn text_of(self, name: &str) -> Option<&'t str> {
        self.child(name).map(Element::text).filter(|t| !t.is_empty())
    }

    /// True when it has an element of that name.
    pub(super) fn has(self, name: &str) -> bool {
        self.child(name).is_some()
    }
}

struct Open {
    node: u32,
    last: u32,
    text: String,
}

struct Builder<'s> {
    source: &'s str,
    reader: Reader<&'s [u8]>,
    tree: Tree,
    known: BTreeMap<Box<str>, u32>,
    open: Vec<Open>,
    line: u32,
    counted: usize,
}

impl<'s> Builder<'s> {
    fn new(source: &'s str) -> Self {
        Self {
            source,
            reader: Reader::from_str(source),
            tree: Tree { nodes: Vec::new(), names: Vec::new() },
            known: BTreeMap::new(),
            open: Vec::new(),
            line: 1,
            counted: 0,
        }
    }

    fn run(mut self) -> Result<Tree, MusicXmlError> {
        loop {
            let at = usize::try_from(self.reader.buffer_position()).unwrap_or(usize::MAX);
            self.count_lines(at);
            let event = match self.reader.read_event() {
                Ok(event) => event,
                Err(e) => {
                    let at = usize::try_from(self.reader.error_position()).unwrap_or(usize::MAX);
                    return Err(self.broken(at, format!("the XML is broken here: {e}")));
                }
            };
            match event {
                Event::Start(start) => self.start(&start, at, false)?,
                Event::Empty(start) => self.start(&start, at, true)?,
                Event::End(_) => self.end(),
                Event::Text(text) => self.text(&text.xml10_content(), at)?,
                Event::CData(text) => self.text(&text.xml10_content(), at)?,
                Event::GeneralRef(entity) => match entity.resolve_char_ref() {
                    Ok(Some(c)) => self.text(c.encode_utf8(&mut [0; 4]), at)?,
                    _ => {
                        let name = entity.xml10_content();
                        let Some(text) = quick_xml::escape::resolve_xml_entity(&name) else {
                            let message = format!(
                                "&{name}; means nothing here (definitions in the document type are not read); \
                                 write the character itself"
                            );
                            return Err(self.broken(at, message));
                        };
                        self.text(text, at)?;
                    }
                },
                Event::Eof => break,
                Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_) => {}
            }
        }
        let end = self.source.len();
        if let Some(open) = self.open.last() {
            let node = &self.tree.nodes[open.node as usize];
            let message = format!(
                "the file ends inside <{}>, which starts on line {}; it is cut off",
                self.tree.names[node.name as usize], node.line
            );
            return Err(self.broken(end, message));
        }
        if self.tree.nodes.is_empty() {
            return Err(self.broken(0, "there is no XML element in this file".to_owned()));
        }
        Ok(self.tree)
    }

    /// Moves the line count on to a byte; positions only ever rise.
    fn count_lines(&mut self, to: usize) {
        let to = to.min(self.source.len());
        if let Some(passed) = self.source.as_bytes().get(self.counted..to) {
            self.line += passed.iter().filter(|&&b| b == b'\n').count() as u32;
            self.counted = to;
        }
    }

    fn broken(&self, byte: usize, message: String) -> MusicXmlError {
        let before = self.source.as_bytes().get(..byte).unwrap_or(self.source.as_bytes());
        let line = before.iter().filter(|&&b| b == b'\n').count() + 1;
        let column = before.iter().rev().take_while(|&&b| b != b'\n').count() + 1;
        MusicXmlError::Xml { line, column, message }
    }

    fn name(&mut self, name: &str) -> u32 {
        if let Some(&id) = self.known.get(name) {
            return id;
        }
        let id = self.tree.names.len() as u32;
        self.tree.names.push(name.into());
        self.known.insert(name.into(), id);
        id
    }

    fn start(&mut self, start: &BytesStart<'_>, at: usize, empty: bool) -> Result<(), MusicXmlError> {
        if self.open.is_empty() && !self.tree.nodes.is_empty() {
            return Err(self.broken(at, "a second root element; a file holds one score".to_owned()));
        }
        if self.open.len() >= MAX_DEPTH {
            return Err(self.broken(at, format!("elements nested more than {MAX_DEPTH} deep")));
        }
        if self.tree.nodes.len() >= MAX_ELEMENTS {
            return Err(MusicXmlError::TooLarge { what: "XML elements", limit: MAX_ELEMENTS });
        }
        let mut attributes = Vec::new();
        // The library's own check for doubled attributes takes time squared; the first one counts.
        for attribute in start.attributes().with_checks(false) {
            let attribute =
                attribute.map_err(|e| self.broken(at, format!("an attribute is broken here: {e}")))?;
            let value = quick_xml::escape::unescape(&attribute.value)
                .map_err(|e| self.broken(at, format!("an attribute's value is broken here: {e}")))?;
            if attributes.len() >= MAX_ATTRIBUTES {
                return Err(self.broken(at, format!("more than {MAX_ATTRIBUTES} attributes")));
            }
            attributes.push((self.name(attribute.key.as_ref()), valid(&value).into()));
        }
        let index = self.tree.nodes.len() as u32;
        let name = self.name(start.name().as_ref());
        self.tree.nodes.push(Node {
            name,
            first: NONE,
            next: NONE,
            line: self.line,
            text: "".into(),
            attributes: attributes.into(),
        });
        if let Some(parent) = self.open.last_mut() {
            if parent.last == NONE {
                self.tree.nodes[parent.node as usize].first = index;
            } else {
                self.tree.nodes[parent.last as usize].next = index;
            }
            parent.last = index;
        }
        if !empty {
            self.open.push(Open { node: index, last: NONE, text: String::new() });
        }
        Ok(())
    }

    fn end(&mut self) {
        // The reader has checked that names match and that something is open.
        if let Some(open) = self.open.pop() {
            self.tree.nodes[open.node as usize].text = valid(open.text.trim()).into();
        }
    }

    fn text(&mut self, text: &str, at: usize) -> Result<(), MusicXmlError> {
        match self.open.last_mut() {
            Some(open) => open.text.push_str(text),
            None if text.trim().is_empty() => {}
            None => {
                let blanks = text.len() - text.trim_start().len();
                return Err(self.broken(at + blanks, "text outside the root element".to_owned()));
            }
        }
        Ok(())
    }
}

/// The text without what no XML document may hold (XML 1.0, production 2) and the library lets through.
fn valid(text: &str) -> Cow<'_, str> {
    if text.contains(['\u{fffe}', '\u{ffff}']) {
        Cow::Owned(text.replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}"))
    } else {
        Cow::Borrowed(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn elements_texts_attributes_and_lines() {
        let tree = Tree::parse(
            "<?xml version='1.0'?>\n<!DOCTYPE a [<!ENTITY x 'y'>]>\n<a>\n <b c='1 &amp; 2'/> t&#x266d;&lt;<!-- no --><b><![CDATA[<z>]]></b>\n</a>",
        )
        .unwrap();
        let root = tree.root();
        assert_eq!((root.name(), root.text(), root.line()), ("a", "t♭<", 3));
        let children: Vec<_> = root.all("b").collect();
        assert_eq!(children[0].attribute("c"), Some("1 & 2"));
        assert_eq!((children[0].line(), children[1].text()), (4, "<z>"));
        assert!(!root.has("c") && root.text_of("b").is_none());
    }

    #[test]
    fn broken_xml_is_refused_with_its_place() {
        for (text, line) in [
            ("", 1),
            ("no xml", 1),
            ("<a>\n<b></a>", 2),
            ("<a>\n<b>", 2),
            ("<a/>\n<b/>", 2),
            ("<a>\n&nope;</a>", 2),
            ("<a>\n<b c='&nope;'/></a>", 2),
            ("<a>\n<b c=1/></a>", 2),
            ("<a>\n<b c='1/></a>", 2),
            ("<a>\n&#0;</a>", 2),
            ("</a>", 1),
            ("<a/>\ntext", 2),
        ] {
            match Tree::parse(text) {
                Err(MusicXmlError::Xml { line: found, .. }) => assert_eq!(found, line, "{text}"),
                Err(other) => panic!("{text}: {other}"),
                Ok(_) => panic!("{text}: accepted"),
            }
        }
    }

    #[test]
    fn nesting_without_end_is_refused_and_does_not_overflow() {
        assert!(Tree::parse(&"<a>".repeat(1 << 18)).is_err());
    }

    #[test]
    fn entities_are_not_expanded() {
        let bomb = "<!DOCTYPE a [<!ENTITY b 'cc'><!ENTITY d '&b;&b;&b;'>]><a>&d;</a>";
        assert!(Tree::parse(bomb).is_err());
    }
}
