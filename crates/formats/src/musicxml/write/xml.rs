//! XML text, indented, one element a line.

/// A document being written.
pub(super) struct Xml {
    out: String,
    open: Vec<&'static str>,
}

/// Attributes as name and value.
pub(super) type Attributes<'a> = &'a [(&'static str, &'a str)];

impl Xml {
    /// A document with its declaration.
    pub(super) fn new() -> Self {
        Self { out: "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n".to_owned(), open: Vec::new() }
    }

    fn tag(&mut self, name: &str, attributes: Attributes<'_>) {
        for _ in 0..self.open.len() {
            self.out.push_str("  ");
        }
        self.out.push('<');
        self.out.push_str(name);
        for (key, value) in attributes {
            self.out.push(' ');
            self.out.push_str(key);
            self.out.push_str("=\"");
            escape(value, &mut self.out);
            self.out.push('"');
        }
    }

    /// Opens an element.
    pub(super) fn open(&mut self, name: &'static str, attributes: Attributes<'_>) {
        self.tag(name, attributes);
        self.out.push_str(">\n");
        self.open.push(name);
    }

    /// Closes the element opened last.
    pub(super) fn close(&mut self) {
        if let Some(name) = self.open.pop() {
            for _ in 0..self.open.len() {
                self.out.push_str("  ");
            }
            self.out.push_str("</");
            self.out.push_str(name);
            self.out.push_str(">\n");
        }
    }

    /// An element without content.
    pub(super) fn empty(&mut self, name: &str, attributes: Attributes<'_>) {
        self.tag(name, attributes);
        self.out.push_str("/>\n");
    }

    /// An element with text.
    pub(super) fn leaf(&mut self, name: &str, attributes: Attributes<'_>, text: impl ToString) {
        self.tag(name, attributes);
        self.out.push('>');
        escape(&text.to_string(), &mut self.out);
        self.out.push_str("</");
        self.out.push_str(name);
        self.out.push_str(">\n");
    }

    /// An element with text and no attributes.
    pub(super) fn text(&mut self, name: &str, text: impl ToString) {
        self.leaf(name, &[], text);
    }

    /// A line that is no element: a document type.
    pub(super) fn raw(&mut self, line: &str) {
        self.out.push_str(line);
        self.out.push('\n');
    }

    /// The finished text.
    pub(super) fn finish(mut self) -> String {
        while !self.open.is_empty() {
            self.close();
        }
        self.out
    }
}

fn escape(text: &str, out: &mut String) {
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // Characters that no XML 1.0 document may hold (production 2, `Char`).
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c if c.is_control() && !matches!(c, '\t' | '\n' | '\r') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
}
