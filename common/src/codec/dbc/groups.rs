//! Which messages are matched by parameter group instead of whole identifier.
//!
//! By parameter group where the attribute `VFrameFormat` of a message is
//! `J1939PG`, or, when it is not set for the message, where `ProtocolType` of the
//! database is `J1939`.

use can_dbc::{AttributeDefinition, AttributeValue, AttributeValueType, MessageId};
use std::collections::HashMap;

/// Which messages are matched by parameter group.
pub(super) struct Groups {
    default: bool,
    declared: HashMap<MessageId, bool>,
}

impl Groups {
    pub(super) fn new(dbc: &can_dbc::Dbc) -> Self {
        let names = dbc.attribute_definitions.iter().find_map(|d| match d {
            AttributeDefinition::Message(name, AttributeValueType::Enum(names))
                if name == "VFrameFormat" =>
            {
                Some(names)
            }
            _ => None,
        });
        let is_group = |value: &AttributeValue| is_j1939_format(value, names.map(Vec::as_slice));
        let protocol = dbc
            .attribute_values_database
            .iter()
            .find(|a| a.name == "ProtocolType");
        let is_j1939 = protocol.is_some_and(
            |a| matches!(&a.value, AttributeValue::String(s) if s.eq_ignore_ascii_case("J1939")),
        );
        Groups {
            default: is_j1939 || dbc.attribute_default("VFrameFormat").is_some_and(is_group),
            declared: dbc
                .attribute_values_message
                .iter()
                .filter(|a| a.name == "VFrameFormat")
                .map(|a| (a.message_id, is_group(&a.value)))
                .collect(),
        }
    }

    pub(super) fn by_group(&self, id: MessageId) -> bool {
        self.declared.get(&id).copied().unwrap_or(self.default)
    }
}

/// `VFrameFormat` by name, or by its place in the list of names (3 by custom).
fn is_j1939_format(value: &AttributeValue, names: Option<&[String]>) -> bool {
    let index = match value {
        AttributeValue::String(name) => return name == "J1939PG",
        AttributeValue::Uint(index) => usize::try_from(*index).ok(),
        AttributeValue::Int(index) => usize::try_from(*index).ok(),
        AttributeValue::Double(_) => None,
    };
    match (index, names) {
        (Some(index), Some(names)) => names.get(index).is_some_and(|name| name == "J1939PG"),
        (Some(index), None) => index == 3,
        (None, _) => false,
    }
}
