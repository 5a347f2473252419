//! What does not fit together in a scenario.

use super::{Fault, FaultKind, Scenario, Stage};

/// Why a scenario cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ScenarioError {
    /// The text is not a scenario; the parser says line and key.
    #[error("{0}")]
    Text(String),
    /// A value is impossible.
    #[error("{key} is {value}: {need}")]
    Value {
        /// The key.
        key: String,
        /// Its value.
        value: f64,
        /// What it must be.
        need: &'static str,
    },
    /// Something refers to a place the car does not have.
    #[error("{key}: there is no `{place}`; known here: {known}")]
    Place {
        /// The key.
        key: String,
        /// The place.
        place: String,
        /// What there is.
        known: String,
    },
    /// Something else.
    #[error("{key}: {problem}")]
    Other {
        /// The key.
        key: String,
        /// What is wrong and what to do.
        problem: String,
    },
}

/// Longest log, h; a typing error would otherwise run for hours.
const LONGEST_H: f64 = 24.0 * 60.0;

impl Scenario {
    /// Check what the types cannot.
    ///
    /// # Errors
    /// The first [`ScenarioError`] found.
    pub fn check(&self) -> Result<(), ScenarioError> {
        let name_ok = !self.name.is_empty()
            && self
                .name
                .bytes()
                .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
        if !name_ok {
            return Err(other("name", "use lower-case letters, digits and `-`"));
        }
        if self.circuits.is_empty() || self.compressors.is_empty() {
            return Err(other(
                "circuit",
                "give at least one circuit and one compressor",
            ));
        }
        if self.stages.is_empty() {
            return Err(other("stage", "give at least one stage"));
        }
        if !(1.0..=30.0).contains(&self.rest_step_s) {
            let need = "must lie between 1 and 30 s";
            return Err(value_error("rest_step_s", self.rest_step_s, need));
        }
        self.check_parts()?;
        for (i, fault) in self.faults.iter().enumerate() {
            self.check_fault(i, fault)?;
        }
        for (i, stage) in self.stages.iter().enumerate() {
            self.check_stage(i, stage)?;
        }
        positive("stage hours, all together", self.seconds())?;
        if self.seconds() > LONGEST_H * 3600.0 {
            return Err(other(
                "stage",
                "all stages together last over 60 days; shorten them",
            ));
        }
        Ok(())
    }

    fn check_parts(&self) -> Result<(), ScenarioError> {
        positive("tank.volume_l", self.tank.volume_l)?;
        positive("tank.start_kpa_gauge", self.tank.start_kpa_gauge)?;
        for c in &self.circuits {
            for (key, value) in [
                ("circuit.mass_kg", c.mass_kg),
                ("circuit.area_cm2", c.area_cm2),
                ("circuit.volume_l", c.volume_l),
                ("circuit.damping_n_s_m", c.damping_n_s_m),
                ("circuit.fill_c", c.fill_c),
                ("circuit.dump_c", c.dump_c),
                ("circuit.line_c", c.line_c),
                ("circuit.valve_stroke_ms", c.valve_stroke_ms),
                ("circuit.heat_s", c.heat_s),
                ("circuit.skin_s", c.skin_s),
                ("circuit.warming.engine_decay_h", c.warming.engine_decay_h),
                ("circuit.warming.brake_decay_h", c.warming.brake_decay_h),
                ("circuit.stick_ratio", c.stick_ratio),
            ] {
                positive(key, value)?;
            }
            for (key, b) in [
                ("circuit.fill_b", c.fill_b),
                ("circuit.dump_b", c.dump_b),
                ("circuit.line_b", c.line_b),
            ] {
                if !(b > 0.0 && b < 1.0) {
                    return Err(value_error(key, b, "must lie between 0 and 1"));
                }
            }
        }
        for (key, value) in [
            ("watch.box.rest_s", self.watch.box_line.rest_s),
            ("watch.box.run_s", self.watch.box_line.run_s),
            ("watch.box.driving_s", self.watch.box_line.driving_s),
            ("watch.box.move_s", self.watch.box_line.move_s),
            ("watch.bus.speed_s", self.watch.bus.speed_s),
            ("watch.bus.ambient_s", self.watch.bus.ambient_s),
        ] {
            if value.is_nan() || value < 0.02 {
                return Err(value_error(key, value, "must be at least 0.02 s"));
            }
        }
        Ok(())
    }

    fn check_fault(&self, i: usize, fault: &Fault) -> Result<(), ScenarioError> {
        let key = format!("fault {} ({}).place", i + 1, fault.kind.word());
        match fault.kind {
            FaultKind::TankLeak
            | FaultKind::CheckValveLeak
            | FaultKind::SupplyRestricted
            | FaultKind::ExhaustRestricted => {}
            FaultKind::CompressorWorn | FaultKind::CompressorOverheats => {
                if !fault.place.is_empty() {
                    place(&key, &fault.place, self.compressors.iter().map(|c| &c.name))?;
                }
            }
            FaultKind::SensorZeroDrift if fault.place == "tank" => {}
            _ => place(&key, &fault.place, self.circuits.iter().map(|c| &c.name))?,
        }
        if fault.kind == FaultKind::CrossLeak {
            place(
                &key,
                &fault.other_place,
                self.circuits.iter().map(|c| &c.name),
            )?;
        }
        if fault.kind.is_leak() {
            positive("fault.anr_cm3_min", fault.anr_cm3_min)?;
        }
        positive("fault.factor", fault.factor)
    }

    fn check_stage(&self, i: usize, stage: &Stage) -> Result<(), ScenarioError> {
        for action in &stage.actions {
            let key = format!("stage {}, action at {} min", i + 1, action.at_min);
            if !(action.at_min >= 0.0 && action.at_min * 60.0 < stage.seconds()) {
                return Err(other(&key, "lies outside its stage"));
            }
            if let Some(preset) = &action.preset
                && !["low", "drive", "high", "empty"].contains(&preset.as_str())
            {
                return Err(other(
                    &key,
                    "presets are `low`, `drive`, `high` and `empty`",
                ));
            }
            if let Some(load) = &action.load_kg
                && load.len() != self.circuits.len()
            {
                return Err(other(&key, "load_kg needs one number per circuit"));
            }
        }
        if let Some(ground) = &stage.ground_mm
            && ground.len() != self.circuits.len()
        {
            let key = format!("stage {}", i + 1);
            return Err(other(&key, "ground_mm needs one number per circuit"));
        }
        Ok(())
    }
}

fn positive(key: &str, value: f64) -> Result<(), ScenarioError> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(value_error(key, value, "must be a number above 0"))
}

fn value_error(key: &str, value: f64, need: &'static str) -> ScenarioError {
    ScenarioError::Value {
        key: key.into(),
        value,
        need,
    }
}

fn other(key: &str, problem: &str) -> ScenarioError {
    ScenarioError::Other {
        key: key.into(),
        problem: problem.into(),
    }
}

fn place<'a>(
    key: &str,
    place: &str,
    known: impl Iterator<Item = &'a String>,
) -> Result<(), ScenarioError> {
    let known: Vec<&str> = known.map(String::as_str).collect();
    if known.contains(&place) {
        return Ok(());
    }
    Err(ScenarioError::Place {
        key: key.into(),
        place: place.into(),
        known: known.join(", "),
    })
}
