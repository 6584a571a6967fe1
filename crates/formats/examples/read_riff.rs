//! Reads a riff from the text below and prints it in the notation's one layout.

use riffkin_formats::riff_text;

const TEXT: &str = "\
riff: Wet Rope
key: D minor
// lengths stay until the next one
| <i7> q 1 e b3 4 q 5 = | e 1 5- h. 1 |
";

fn main() {
    match riff_text::parse(TEXT) {
        Ok((riff, warnings)) => {
            for warning in warnings {
                eprintln!("{warning}");
            }
            print!("{}", riff_text::print(&riff));
        }
        Err(error) => eprintln!("{error}"),
    }
}
