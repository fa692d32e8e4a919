//! `core-findings FOLDER RECORDING...` writes the findings of each recording into the folder, as
//! `NAME.json`.

use std::path::Path;
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let mut arguments = env::args_os().skip(1);
    let folder = arguments
        .next()
        .ok_or_else(|| io::Error::other("FOLDER RECORDING..."))?;
    for recording in arguments {
        let name = Path::new(&recording).with_extension("json");
        let name = name.file_name().unwrap_or_default();
        let findings = core_findings::findings(&fs::read(&recording)?);
        fs::write(Path::new(&folder).join(name), findings)?;
    }
    Ok(())
}
