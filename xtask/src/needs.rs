//! What the checks need beyond Rust: found, installed where that is possible, otherwise named.

use crate::run::{Show, run};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

/// A program that a check starts.
pub(crate) struct Need {
    /// Names under which it may be found, best first.
    pub(crate) names: &'static [&'static str],
    /// Debian packages that bring it.
    pub(crate) packages: &'static [&'static str],
    /// What it is for.
    pub(crate) purpose: &'static str,
}

/// Python with the module that makes virtual environments.
pub(crate) const PYTHON: Need = Need {
    names: &["python3", "python"],
    packages: &["python3", "python3-venv"],
    purpose: "reading our files back with other people's libraries",
};

/// The C++ compiler that builds the fuzzing engine.
pub(crate) const CPP: Need =
    Need { names: &["c++", "g++", "clang++"], packages: &["g++"], purpose: "building the fuzz targets" };

/// A browser that can be driven without a screen.
pub(crate) const BROWSER: Need = Need {
    names: &["chromium", "chromium-browser"],
    packages: &["chromium", "fonts-dejavu-core"],
    purpose: "opening the page",
};

/// Everything that the outside checks start, Python apart.
pub(crate) const OUTSIDE: &[&Need] = &[
    &BROWSER,
    &Need { names: &["qpdf"], packages: &["qpdf"], purpose: "checking the sheet's PDF structure" },
    &Need { names: &["pdffonts"], packages: &["poppler-utils"], purpose: "checking that fonts are embedded" },
    &Need { names: &["pdfinfo"], packages: &["poppler-utils"], purpose: "checking the page size" },
    &Need { names: &["pdftotext"], packages: &["poppler-utils"], purpose: "checking the reading order" },
    &Need { names: &["pdftoppm"], packages: &["poppler-utils"], purpose: "making pictures of the sheet" },
];

/// Where a need's program lies on this machine.
pub(crate) fn find(need: &Need) -> Option<PathBuf> {
    let folders = std::env::var_os("PATH")?;
    let folders: Vec<PathBuf> = std::env::split_paths(&folders).collect();
    need.names.iter().find_map(|name| {
        let file = format!("{name}{}", std::env::consts::EXE_SUFFIX);
        folders.iter().map(|folder| folder.join(&file)).find(|path| path.is_file())
    })
}

/// Makes sure that every need is there, installing what is missing where that can be done.
///
/// `broken` names needs that are found but do not serve (a Python without its venv module, say).
///
/// # Errors
/// Names every need that is still missing, with the command that brings it.
pub(crate) fn provide(needs: &[&Need], broken: &[&Need]) -> Result<(), String> {
    let missing: Vec<&Need> = needs.iter().copied().filter(|need| find(need).is_none()).collect();
    let packages = packages_of(missing.iter().chain(broken).copied());
    if packages.is_empty() {
        return Ok(());
    }
    if can_install() {
        println!("installing {} with apt-get", packages.join(" "));
        install(&packages)?;
    }
    let still: Vec<&Need> = needs.iter().copied().filter(|need| find(need).is_none()).collect();
    if still.is_empty() { Ok(()) } else { Err(missing_message(&still)) }
}

fn packages_of<'a>(needs: impl Iterator<Item = &'a Need>) -> Vec<&'static str> {
    let mut packages: Vec<&str> = needs.flat_map(|need| need.packages).copied().collect();
    packages.sort_unstable();
    packages.dedup();
    packages
}

/// The words for needs that could not be met.
pub(crate) fn missing_message(needs: &[&Need]) -> String {
    let list: Vec<String> =
        needs.iter().map(|need| format!("  {} ({})", need.names.join(" or "), need.purpose)).collect();
    format!(
        "these programs are missing:\n{}\nOn Debian or Ubuntu: sudo apt-get install {}\nElsewhere install programs of \
         these names. To run only what Rust alone can check: cargo xtask test --without-outside",
        list.join("\n"),
        packages_of(needs.iter().copied()).join(" ")
    )
}

/// Whether this is Debian (or a child of it) and we are root.
fn can_install() -> bool {
    let limit = Duration::from_secs(10);
    let root = run(Command::new("id").arg("-u"), Show::No, limit).is_ok_and(|out| out.text.trim() == "0");
    root && Path::new("/usr/bin/apt-get").exists()
}

fn install(packages: &[&str]) -> Result<(), String> {
    let limit = Duration::from_secs(900);
    let apt = || {
        let mut command = Command::new("apt-get");
        command.env("DEBIAN_FRONTEND", "noninteractive").arg("-q");
        command
    };
    // A list that cannot be refreshed may still be good enough: the installation decides.
    let refreshed = run(apt().arg("update"), Show::No, limit)?;
    let installed =
        run(apt().args(["install", "-y", "--no-install-recommends"]).args(packages), Show::No, limit)?;
    if installed.ok {
        return Ok(());
    }
    Err(format!("apt-get could not install {}:\n{}{}", packages.join(" "), refreshed.text, installed.text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_program_is_named_with_its_purpose_and_package() {
        let absent = Need { names: &["no-such-program"], packages: &["nothing"], purpose: "a test" };
        assert!(find(&absent).is_none());
        let message = missing_message(&[&absent]);
        for part in ["no-such-program", "a test", "apt-get install nothing", "--without-outside"] {
            assert!(message.contains(part), "{message}");
        }
    }

    #[test]
    fn a_program_on_the_path_is_found() {
        let cargo = Need { names: &["no-such-program", "cargo"], packages: &[], purpose: "a test" };
        assert!(find(&cargo).is_some_and(|path| path.is_file()));
        assert!(provide(&[&cargo], &[]).is_ok());
    }

    #[test]
    fn packages_are_listed_once() {
        assert_eq!(
            packages_of(OUTSIDE.iter().copied()),
            ["chromium", "fonts-dejavu-core", "poppler-utils", "qpdf"]
        );
    }
}
