//! Where the shelf lies.

use std::ffi::OsString;
use std::path::PathBuf;

/// Its name in the folder for the user's data.
const NAME: &str = "riffs.shelf";

/// There is no folder for the user's data.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "nothing says where this computer keeps your data; say where the shelf lies with --shelf FILE or RIFFKIN_SHELF"
)]
pub struct NoPlace;

/// The file that was asked for, else the one that `RIFFKIN_SHELF` names, else `riffs.shelf` in the platform's folder for
/// the user's data: `$XDG_DATA_HOME/riffkin` or `~/.local/share/riffkin` (XDG Base Directory Specification 0.8), on macOS
/// `~/Library/Application Support/Riffkin` (Apple, *File System Programming Guide*), on Windows `%LOCALAPPDATA%\Riffkin`
/// (Microsoft, *Known Folder IDs*: data that stays on this machine).
///
/// # Errors
/// [`NoPlace`].
pub fn place(asked: Option<PathBuf>) -> Result<PathBuf, NoPlace> {
    find(asked, |name| std::env::var_os(name)).ok_or(NoPlace)
}

fn find(asked: Option<PathBuf>, env: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let env = |name: &str| env(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let folder = |name: &str| env(name).filter(|p| p.is_absolute());
    asked.or_else(|| env("RIFFKIN_SHELF")).or_else(|| {
        let data = if cfg!(windows) {
            folder("LOCALAPPDATA")?.join("Riffkin")
        } else if cfg!(target_os = "macos") {
            folder("HOME")?.join("Library/Application Support/Riffkin")
        } else {
            folder("XDG_DATA_HOME").or_else(|| Some(folder("HOME")?.join(".local/share")))?.join("riffkin")
        };
        Some(data.join(NAME))
    })
}

#[cfg(all(test, unix, not(target_os = "macos")))]
mod tests {
    use super::*;

    #[test]
    fn what_was_asked_for_comes_first_then_the_environment_then_the_users_folder() {
        let all = |name: &str| match name {
            "RIFFKIN_SHELF" => Some("/e/a.shelf".into()),
            "XDG_DATA_HOME" => Some("/x".into()),
            "HOME" => Some("/h".into()),
            _ => None,
        };
        let without = |left_out: &'static [&'static str]| {
            find(None, move |name| if left_out.contains(&name) { None } else { all(name) })
        };
        assert_eq!(find(Some("b".into()), all), Some("b".into()));
        assert_eq!(without(&[]), Some("/e/a.shelf".into()));
        assert_eq!(without(&["RIFFKIN_SHELF"]), Some("/x/riffkin/riffs.shelf".into()));
        assert_eq!(
            without(&["RIFFKIN_SHELF", "XDG_DATA_HOME"]),
            Some("/h/.local/share/riffkin/riffs.shelf".into())
        );
        assert_eq!(without(&["RIFFKIN_SHELF", "XDG_DATA_HOME", "HOME"]), None);
        // A relative folder is to be ignored (XDG Base Directory Specification 0.8, "Basics").
        let relative = |name: &str| match name {
            "XDG_DATA_HOME" => Some("x".into()),
            "RIFFKIN_SHELF" => Some("".into()),
            _ => all(name),
        };
        assert_eq!(find(None, relative), Some("/h/.local/share/riffkin/riffs.shelf".into()));
    }
}
