//! Times written as differences from one to the next: a third of the room.

use serde::{Deserialize, Deserializer, Serializer};

pub(super) fn serialize<S: Serializer>(t_ms: &[i64], out: S) -> Result<S::Ok, S::Error> {
    let mut last: i64 = 0;
    out.collect_seq(t_ms.iter().map(|t| {
        let step = t.wrapping_sub(last);
        last = *t;
        step
    }))
}

pub(super) fn deserialize<'de, D: Deserializer<'de>>(input: D) -> Result<Vec<i64>, D::Error> {
    let mut t_ms: Vec<i64> = Vec::deserialize(input)?;
    for i in 1..t_ms.len() {
        t_ms[i] = t_ms[i].wrapping_add(t_ms[i - 1]);
    }
    Ok(t_ms)
}

#[cfg(test)]
mod tests {
    use serde::{Deserialize, Serialize};

    #[derive(Serialize, Deserialize)]
    struct Times(#[serde(with = "super")] Vec<i64>);

    #[test]
    fn every_time_comes_back() {
        for t_ms in [
            vec![],
            vec![7],
            vec![1_790_000_000_000, 1_790_000_000_020, 1_789_999_999_000],
            vec![i64::MIN, i64::MAX, 0, i64::MIN],
        ] {
            let bytes = postcard::to_stdvec(&Times(t_ms.clone())).expect("written");
            let back: Times = postcard::from_bytes(&bytes).expect("read");
            assert_eq!(back.0, t_ms);
        }
    }
}
