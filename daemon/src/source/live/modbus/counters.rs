//! What came of all questions, and how to say it.

use super::ask::Answer;
use seep_common::codec::decode::RegisterBlock;
use seep_common::rig::RegisterTable;
use tokio_modbus::ExceptionCode;

/// Counts of questions and answers.
#[derive(Debug, Default, Clone, Copy)]
pub(super) struct ModbusCounters {
    pub questions: u64,
    pub answers: u64,
    pub no_answers: u64,
    pub damaged: u64,
    pub unsolicited: u64,
    pub refusals: u64,
    pub stray_bytes: u64,
    pub late_rounds: u64,
}

impl ModbusCounters {
    /// Count an answer.
    pub(super) fn count(&mut self, answer: &Answer) {
        self.questions += 1;
        match answer {
            Answer::Words(_) => self.answers += 1,
            Answer::Refused(_) => self.refusals += 1,
            Answer::Nothing => self.no_answers += 1,
            Answer::Damaged => self.damaged += 1,
            Answer::Unsolicited => self.unsolicited += 1,
            Answer::LineLost(_) => {}
        }
    }

    /// Every count with its name, as it is recorded.
    pub(super) fn named(&self) -> [(&'static str, u64); 8] {
        [
            ("questions", self.questions),
            ("answers", self.answers),
            ("questions_without_answer", self.no_answers),
            ("damaged_answers", self.damaged),
            ("answers_to_something_else", self.unsolicited),
            ("exception_answers", self.refusals),
            ("unasked_bytes", self.stray_bytes),
            ("rounds_longer_than_the_period", self.late_rounds),
        ]
    }
}

/// Cause of a loss when a station gave no right answer.
pub(super) fn cause(unit: u8, path: &str, answer: &Answer) -> String {
    match answer {
        Answer::Nothing => format!(
            "station {unit} on {path} does not answer; check its power, the wiring (A and B \
             swapped?), `unit_id` and `baud`"
        ),
        Answer::Damaged => format!(
            "answers of station {unit} on {path} arrive damaged; check `baud`, the ends of the \
             line and its shield"
        ),
        Answer::Unsolicited => format!(
            "answers on {path} do not belong to the questions; is another program asking too, \
             or `timeout_ms` too short?"
        ),
        Answer::Refused(code) if passes(*code) => {
            format!("station {unit} on {path} is busy ({})", name_of(*code))
        }
        Answer::Refused(code) => format!(
            "station {unit} refuses every register of the rig ({}); correct `register` and `table`",
            name_of(*code)
        ),
        Answer::LineLost(cause) => cause.clone(),
        Answer::Words(_) => String::new(),
    }
}

/// *Busy* and *still working* pass; the others are a mistake in the rig.
pub(super) fn passes(code: ExceptionCode) -> bool {
    matches!(u8::from(code), 5 | 6)
}

/// A note that a station refuses some registers only.
pub(super) fn refusal(unit: u8, block: RegisterBlock, code: ExceptionCode) -> String {
    let table = match block.table {
        RegisterTable::Input => "input",
        RegisterTable::Holding => "holding",
    };
    let last = block.first + (block.count - 1);
    let which = if block.count == 1 {
        format!("register {}", block.first)
    } else {
        format!("registers {} to {last}", block.first)
    };
    let name = name_of(code);
    format!("station {unit} refuses {table} {which} ({name}); correct `register` and `table`")
}

fn name_of(code: ExceptionCode) -> String {
    format!("exception {}, {code}", u8::from(code)).to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refusal_names_registers_and_reason() {
        let block = RegisterBlock {
            table: RegisterTable::Holding,
            first: 65_535,
            count: 1,
        };
        assert_eq!(
            refusal(7, block, ExceptionCode::IllegalDataAddress),
            "station 7 refuses holding register 65535 (exception 2, illegal data address); \
             correct `register` and `table`"
        );
    }
}
