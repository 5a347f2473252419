//! Rig files: any text, and what is recorded by a rig that is accepted.

use super::{Target, air};
use seep_common::codec::decode::{CanDecoder, ModbusDecoder, NmeaDecoder};
use seep_common::rig::{Rig, SourceKind};
use seep_common::sample::ChannelIndex;
use seep_common::time::BootMs;
use seep_daemon::pipeline::Pipeline;

pub(super) const TARGET: Target = Target {
    name: "rig",
    run,
    words: &[
        "[vehicle]\n",
        "[[channel]]\n",
        "[[source]]\n",
        "[[circuit]]\n",
        "name = ",
        "\"tank_kpa_gauge\"",
        "\"box\"",
        "kind = \"nmea\"\n",
        "kind = \"csv\"\n",
        "kind = \"modbus\"\n",
        "= nan",
        "= inf",
        "= 1e12",
        "= -0.0",
        "= 1e-12",
        "9223372036854775807",
        "full_rate_hz = 1000\n",
        "before_activity_s = 60\n",
        "rest_period_s = 0.001\n",
        "resolution = 1e-9\n",
        "range = [-1e3, 1e3]\n",
        "\"\"\"",
        "'",
        "{ two_point = [[0, 0], [1, 1]] }",
        "\u{1F697}",
        "power_off_s = 1\n",
        "volume_at_height = [[0, 1], [1, 2]]\n",
        "[recorder]\n",
    ],
    rounds: 1_000,
};

fn run(data: &[u8]) {
    let text = String::from_utf8_lossy(&data[..data.len().min(1 << 16)]);
    let rig = match Rig::parse(&text) {
        Ok(rig) => rig,
        Err(error) => {
            assert!(!error.problems.is_empty());
            let lines = text.bytes().filter(|b| *b == b'\n').count() + 1;
            for problem in &error.problems {
                assert!((1..=lines).contains(&problem.line), "{problem}");
                assert!(!problem.remedy.is_empty() && !problem.problem.is_empty());
            }
            return;
        }
    };
    decoders(&rig);
    record(&rig);
}

fn decoders(rig: &Rig) {
    for (i, source) in rig.sources.iter().enumerate() {
        assert!(rig.line_of("source", &source.name).is_some());
        let tried = match &source.kind {
            SourceKind::SocketCan { .. } => CanDecoder::new(rig, i, air()).map(drop),
            SourceKind::Nmea { .. } => NmeaDecoder::new(rig, i).map(drop),
            SourceKind::Modbus { .. } => ModbusDecoder::new(rig, i).map(drop),
            SourceKind::Csv { .. } => Ok(()),
        };
        for problem in tried.err().into_iter().flat_map(|e| e.problems) {
            assert!(rig.line_of("channel", &problem.channel).is_some());
        }
    }
}

/// Readings through the pipeline: ticks rise and lie inside the session.
fn record(rig: &Rig) {
    let mut pipeline = Pipeline::new(rig);
    pipeline.begin(BootMs(1_000), &vec![true; rig.sources.len()]);
    for step in 0..40i64 {
        for (i, channel) in rig.channels.iter().enumerate().take(20) {
            let (low, high) = channel.range;
            let value = low + (high - low) * (step % 7) as f64 / 5.0;
            pipeline.push(
                ChannelIndex(i as u16),
                BootMs(1_000 + step * step * 37),
                value,
            );
        }
    }
    pipeline.finish(BootMs(1_000 + 40 * 40 * 37));
    let batch = pipeline.take_batch();
    assert!(batch.ticks.windows(2).all(|w| w[0].t_ms < w[1].t_ms));
    assert!(
        batch
            .ticks
            .iter()
            .all(|t| t.counts.len() == rig.channels.len())
    );
}
