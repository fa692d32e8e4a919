//! A field at its place, and what it says.

use super::number::{ByteOrder, NumberType, Raw};
use super::spec::{Field, Role, Text};
use super::values::Unit;
use super::wire::{Found, Table};
use crate::units::{Pressure, Temperature};

/// Digits after the mark of a decimal number, where the file does not say.
const DIGITS: u8 = 3;

/// A field at its place.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Slot {
    pub role: Role,
    pub name: Option<String>,
    pub kind: NumberType,
    pub order: ByteOrder,
    /// Bytes from the start of the payload, or of the sample.
    pub at: usize,
    scale: f64,
    offset: f64,
    pub unit: Option<Unit>,
    table: Option<Table>,
    /// Digits after the mark of a decimal number.
    pub digits: usize,
    over_range: Option<i64>,
    under_range: Option<i64>,
    no_value: Option<i64>,
    /// Above the range, below it, and no value can be told.
    tells: [bool; 3],
    /// What it must hold.
    pub equals: Option<i64>,
}

/// What a field says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Value {
    /// A number, in the field's unit.
    Number(f64),
    /// Above what the sensor can tell.
    Over,
    /// Below what the sensor can tell.
    Under,
    /// Nothing.
    Nothing,
}

impl Slot {
    pub(super) fn new(field: &Field, order: ByteOrder, at: usize) -> Self {
        Self {
            role: field.role,
            name: field.name.clone(),
            kind: field.kind,
            order: field.byte_order.unwrap_or(order),
            at,
            scale: field.scale,
            offset: field.offset,
            table: Table::new(&field.table),
            digits: usize::from(field.digits.unwrap_or(DIGITS)),
            unit: field.unit,
            over_range: field.over_range,
            under_range: field.under_range,
            no_value: field.no_value,
            tells: [field.over_range, field.under_range, field.no_value]
                .map(|code| code.is_some() || field.kind.limits().is_none()),
            equals: field.equals,
        }
    }

    /// For a line of text: a decimal number has no codes of its own, only the words of the text.
    pub(super) fn in_text(mut self, text: &Text) -> Self {
        self.order = ByteOrder::Little;
        if self.kind == NumberType::Decimal {
            self.tells = [&text.over_range, &text.under_range, &text.no_value].map(Option::is_some);
        }
        self
    }

    /// Whether the message is one that this field belongs to.
    pub(super) fn is_as_it_must(&self, bytes: &[u8]) -> bool {
        match (self.equals, self.raw(bytes)) {
            (Some(must), Some(raw)) => raw == Raw::Integer(must),
            _ => true,
        }
    }

    /// The number that it must hold.
    pub(super) fn must_be(&self) -> Option<Raw> {
        self.equals.map(Raw::Integer)
    }

    /// Writes a number into its place, if the payload is long enough.
    pub(super) fn put(&self, raw: Raw, payload: &mut [u8]) {
        let mut bytes = Vec::with_capacity(8);
        self.kind.write(raw, self.order, &mut bytes);
        if let Some(place) = payload.get_mut(self.at..self.end()) {
            place.copy_from_slice(&bytes);
        }
    }

    /// First byte after it.
    pub(super) fn end(&self) -> usize {
        self.at + self.kind.size()
    }

    /// What stands in its bytes; none if the payload ends before.
    pub(super) fn raw(&self, bytes: &[u8]) -> Option<Raw> {
        self.kind.read(bytes.get(self.at..)?, self.order)
    }

    /// The raw number of a field that counts something: sequence, tick, count, status, interval.
    pub(super) fn count(&self, bytes: &[u8]) -> Option<u64> {
        match self.raw(bytes)? {
            Raw::Integer(value) => u64::try_from(value).ok(),
            _ => None,
        }
    }

    /// What the raw number means.
    pub(super) fn value(&self, raw: Raw) -> Value {
        let number = match raw {
            Raw::Integer(code) if Some(code) == self.no_value => return Value::Nothing,
            Raw::Integer(code) if Some(code) == self.over_range => return Value::Over,
            Raw::Integer(code) if Some(code) == self.under_range => return Value::Under,
            Raw::PlusInfinity => return Value::Over,
            Raw::MinusInfinity => return Value::Under,
            Raw::NotANumber | Raw::NotAtThisResolution | Raw::Reserved => return Value::Nothing,
            Raw::Integer(code) => code as f64,
            Raw::Real(number) => number,
        };
        let value = match &self.table {
            None => number * self.scale + self.offset,
            Some(table) => match table.value(number) {
                Found::Value(value) => value,
                Found::Above => return Value::Over,
                Found::Below => return Value::Under,
            },
        };
        if value.is_finite() {
            Value::Number(value)
        } else {
            Value::Nothing
        }
    }

    /// The widest stretch of an integer type's raw numbers in which none is special, by the two
    /// outside its ends; the last that the type can tell count as special.
    pub(super) fn ordinary(&self) -> Option<(i64, i64)> {
        if self.table.is_some() {
            return None;
        }
        let (low, high) = self.kind.limits()?;
        let special = [self.over_range, self.under_range, self.no_value];
        let mut special: Vec<i64> = special.into_iter().flatten().chain([low, high]).collect();
        special.retain(|code| (low..=high).contains(code));
        special.sort_unstable();
        let stretches = special.windows(2).map(|pair| (pair[0], pair[1]));
        stretches.max_by_key(|(from, to)| to - from)
    }

    /// The value in a payload; nothing if the payload ends before.
    pub(super) fn read(&self, bytes: &[u8]) -> Value {
        self.raw(bytes)
            .map_or(Value::Nothing, |raw| self.value(raw))
    }

    /// The raw number that stands for a value: the other way.
    pub(super) fn code(&self, value: Value) -> Raw {
        let integer = self.kind.limits();
        let code = |given: Option<i64>, edge: i64, real: Raw| match integer {
            Some(_) => Raw::Integer(given.unwrap_or(edge)),
            None => real,
        };
        let (low, high) = integer.unwrap_or_default();
        let (bottom, top) = if self.rises() {
            (low, high)
        } else {
            (high, low)
        };
        match value {
            Value::Over => code(self.over_range, top, Raw::PlusInfinity),
            Value::Under => code(self.under_range, bottom, Raw::MinusInfinity),
            Value::Nothing => code(self.no_value, 0, Raw::NotANumber),
            Value::Number(value) => {
                let beyond = self.table.as_ref().and_then(|table| table.beyond(value));
                if let Some(over) = beyond
                    && self.tells[usize::from(!over)]
                {
                    return self.code(if over { Value::Over } else { Value::Under });
                }
                let raw = match &self.table {
                    None => (value - self.offset) / self.scale,
                    Some(table) => table.raw(value),
                };
                match integer {
                    None => Raw::Real(raw),
                    Some(_) if !(low as f64..=high as f64).contains(&raw.round()) => {
                        let over = (raw > 0.0) == self.rises();
                        self.code(if over { Value::Over } else { Value::Under })
                    }
                    Some(_) => Raw::Integer(self.besides_codes(raw.round() as i64)),
                }
            }
        }
    }

    /// An ordinary value must not come out as one of the special codes: one step beside it is
    /// nearer to the truth.
    fn besides_codes(&self, code: i64) -> i64 {
        let special = [self.over_range, self.under_range, self.no_value];
        if !special.contains(&Some(code)) {
            return code;
        }
        let (low, high) = self.kind.limits().unwrap_or_default();
        [code - 1, code + 1, code - 2, code + 2]
            .into_iter()
            .find(|near| (low..=high).contains(near) && !special.contains(&Some(*near)))
            .unwrap_or(code)
    }

    /// The end of what its type can tell, as a pressure; none for a type without one.
    pub(super) fn edge(&self, upper: bool) -> Option<Pressure> {
        if let Some(table) = &self.table {
            return Some(self.pressure(table.end(upper)));
        }
        let (low, high) = self.kind.limits()?;
        let code = if upper == self.rises() { high } else { low };
        Some(self.pressure(code as f64 * self.scale + self.offset))
    }

    /// Whether the raw number is the last its type can tell towards high pressure, so that the
    /// true one may be higher.
    pub(super) fn is_saturated(&self, raw: Raw) -> bool {
        let end = self
            .kind
            .limits()
            .map(|(low, high)| if self.rises() { high } else { low });
        matches!(raw, Raw::Integer(code) if Some(code) == end)
    }

    pub(super) fn has_over(&self) -> bool {
        self.tells[0]
    }

    pub(super) fn has_under(&self) -> bool {
        self.tells[1]
    }

    pub(super) fn can_be_nothing(&self) -> bool {
        self.tells[2]
    }

    /// Values rise with the raw number: a negative factor, or a falling table, turns the scale
    /// round.
    fn rises(&self) -> bool {
        self.table.as_ref().map_or(self.scale > 0.0, Table::rises)
    }

    /// One step of an integer, or of a decimal number's last digit, in its unit; by a table, the
    /// largest.
    pub(super) fn step(&self) -> Option<f64> {
        let slope = self
            .table
            .as_ref()
            .map_or(self.scale.abs(), Table::steepest);
        match self.kind {
            NumberType::Decimal => {
                let digits = (0..self.digits).fold(1.0, |power, _| power * 10.0);
                Some(slope / digits)
            }
            kind => kind.limits().map(|_| slope),
        }
    }

    /// A pressure in the field's unit as a pressure.
    pub(super) fn pressure(&self, value: f64) -> Pressure {
        match self.unit {
            Some(Unit::Pressure(unit)) => Pressure::new(value, unit),
            _ => Pressure::from_pa(value),
        }
    }

    /// How raw numbers become pressures.
    pub(super) fn to_pressure(&self) -> ToPressure {
        ToPressure {
            scale: self.scale,
            offset: self.offset,
            pascals: self.pressure(1.0).pa(),
        }
    }

    /// The other way.
    pub(super) fn of_pressure(&self, pressure: Pressure) -> f64 {
        match self.unit {
            Some(Unit::Pressure(unit)) => pressure.to(unit),
            _ => pressure.pa(),
        }
    }

    /// The temperature in a payload, if there is one.
    pub(super) fn temperature(&self, bytes: &[u8]) -> Option<Temperature> {
        match (self.read(bytes), self.unit) {
            (Value::Number(value), Some(unit)) => Some(unit.temperature(value)),
            _ => None,
        }
    }
}

/// From raw numbers to pressure: what [`Slot::value`] and [`Slot::pressure`] do, for many.
#[derive(Clone, Copy, Debug)]
pub(super) struct ToPressure {
    scale: f64,
    offset: f64,
    pascals: f64,
}

impl ToPressure {
    pub(super) fn pressure(self, number: f64) -> Pressure {
        Pressure::from_pa((number * self.scale + self.offset) * self.pascals)
    }
}
