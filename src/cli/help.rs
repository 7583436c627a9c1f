//! `scuffline completions` and `scuffline manual`: help for shells and for `man`.

use std::io::Write;

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use super::Cli;

/// For which shell.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  scuffline completions bash > ~/.local/share/bash-completion/completions/scuffline")]
pub struct CompletionsArgs {
    /// The shell.
    #[arg(value_enum)]
    pub shell: Shell,
}

/// Prints the completion script of a shell.
///
/// # Errors
/// `out` can't be written.
pub fn completions(args: &CompletionsArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "scuffline", &mut script);
    Ok(out.write_all(&script)?)
}

/// Prints the manual page in roff, the verbs' options included.
///
/// # Errors
/// `out` can't be written.
pub fn manual(out: &mut dyn Write) -> anyhow::Result<()> {
    let mut command = Cli::command();
    command.build();
    let mut page = Vec::new();
    clap_mangen::Man::new(command.clone()).render(&mut page)?;
    for verb in command.get_subcommands().filter(|verb| verb.get_name() != "help") {
        let man = clap_mangen::Man::new(verb.clone());
        writeln!(page, ".SH \"SCUFFLINE {}\"", verb.get_name().to_uppercase())?;
        man.render_description_section(&mut page)?;
        man.render_options_section(&mut page)?;
    }
    Ok(out.write_all(&page)?)
}
