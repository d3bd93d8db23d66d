//! Why something of a run cannot be handed out.

/// One sentence for the person who asked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RunsError {
    /// No folder of this name, or a name that is none.
    #[error("there is no such run")]
    NoSuchRun,
    /// The run has no such file.
    #[error("there is no such file in this run")]
    NoSuchFile,
    /// The folder cannot be used.
    #[error("{0}")]
    Damaged(String),
    /// The recorder is writing into it.
    #[error("this run is still being recorded: there is a verdict as soon as it has ended")]
    StillRecording,
    /// A setting has no run that could be compared.
    #[error("there is no run in setting {0} to compare, of this plow and this day")]
    NoRunsOf(String),
    /// Both settings are the same.
    #[error("choose two different settings")]
    SameSetting,
    /// Too many questions wait already.
    #[error("too much is being worked out already: try again in a few seconds")]
    Busy,
    /// No program to work it out.
    #[error(
        "the program hitchwright is neither in the folder of this one nor in the search path: without it there are \
         no verdicts, comparisons and pages; recording needs it for nothing"
    )]
    NoAnalyst,
    /// It ran longer than it may.
    #[error("working it out took longer than {0} s and was given up; recording is not touched")]
    TookTooLong(u64),
    /// It said more than it may.
    #[error("hitchwright said far more than it should, and was ended; recording is not touched")]
    TooMuch,
    /// It broke off.
    #[error("hitchwright broke off ({0}); recording is not touched")]
    BrokeOff(String),
    /// What it said itself, such as that a pass is too short.
    #[error("{0}")]
    Says(String),
    /// It said what this program does not know.
    #[error("hitchwright's answer is not understood: install both programs in the same version")]
    NotUnderstood,
    /// The system refused something.
    #[error("{0}")]
    System(String),
    /// Something more urgent has to be worked out first.
    #[error("something more urgent came between")]
    GaveWay,
    /// The program is ending.
    #[error("the recorder is ending")]
    Ended,
}
