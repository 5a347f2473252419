//! Which span another one is compared with.

use super::Session;
use super::SpanError;
use super::last::length_ms;
use super::span::{Span, SpanRequest, resolve};
use seep_common::store::ClockMap;

/// Resolve the words of `--against` beside the span reported on.
///
/// `before`: as long, and directly before. `3 days before`, `night before`,
/// `week before`: the same span, so much earlier. `FROM..TO`: wall times, either
/// end may be left away. `session 2`: that session.
pub(super) fn other(
    text: &str,
    main: &Span,
    zone: Option<&str>,
    sessions: &[Session],
    clock: &ClockMap,
) -> Result<Span, SpanError> {
    let bad = || SpanError::BadAgainst { text: text.into() };
    let words = text.trim();
    if let Some((from, to)) = words.split_once("..") {
        let part = |t: &str| (!t.trim().is_empty()).then(|| t.trim().to_string());
        let request = SpanRequest {
            from: part(from),
            to: part(to),
            zone: zone.map(str::to_string),
            ..SpanRequest::default()
        };
        return resolve(&request, sessions, clock, None);
    }
    if let Some(number) = words.strip_prefix("session ") {
        let request = SpanRequest {
            session: Some(number.trim().parse().map_err(|_| bad())?),
            zone: zone.map(str::to_string),
            ..SpanRequest::default()
        };
        return resolve(&request, sessions, clock, None);
    }
    let earlier = words
        .strip_suffix("before")
        .ok_or_else(bad)?
        .trim()
        .to_lowercase();
    let shift = match earlier.as_str() {
        "" => main.to_t_ms - main.from_t_ms,
        "night" => 24 * 3_600_000,
        length => length_ms(length).ok_or_else(bad)?,
    };
    Ok(Span {
        from_t_ms: main.from_t_ms.saturating_sub(shift),
        to_t_ms: main.to_t_ms.saturating_sub(shift),
        zone: main.zone.clone(),
    })
}
