//! What a person at the board sees and asks: lamp, button, bell.

use controller_core::sensor::Sensor;
use controller_core::{Command, Outputs, WoodRequest};
use embedded_hal::digital::InputPin;

use super::App;
use crate::board::Board;
use crate::button::Press;
use crate::lamp::{self, Pattern};

impl<B: Board> App<B> {
    pub(super) fn look_at_button(&mut self) {
        let Some(contact) = self.contact.as_mut() else {
            return;
        };
        // A pin that refuses is no press.
        let is_down = contact.is_low().unwrap_or(false);
        match self.button.look(is_down, self.now) {
            Some(Press::Short) => {
                self.silence();
                // With too many commands waiting it is silence alone; the bell comes back.
                let _ = self.wanted.push_back(Command::Acknowledge);
            }
            Some(Press::Long) => self.answer = Some((self.now, self.state_in_blinks())),
            None => {}
        }
    }

    /// The bell is silent until something new rings, or the same for too long.
    pub(super) fn silence(&mut self) {
        if self.stepped {
            self.silence.begin(self.report.row.alarms, self.now);
        }
    }

    /// The most pressing of: 6 held, 5 never set, 4 an alarm, 3 a sensor without reading, 2 advice, 1 well.
    fn state_in_blinks(&self) -> u8 {
        let row = &self.report.row;
        let lost = Sensor::ALL
            .into_iter()
            .any(|sensor| row.readings.get(sensor).is_lost());
        match () {
            () if self.held() => 6,
            () if !self.chosen => 5,
            () if lost => 3,
            () if self.outputs.alarm => 4,
            () if !row.alarms.is_empty() => 2,
            () => 1,
        }
    }

    pub(super) fn is_lamp_lit(&mut self) -> bool {
        if let Some((since, blinks)) = self.answer {
            let told = self.now.since(since).as_millis();
            if u64::from(told) < lamp::answer_ms(blinks) {
                return lamp::is_lit(Pattern::Count(blinks), told.into());
            }
            self.answer = None;
        }
        let pattern = match self.outputs {
            _ if self.held() => Pattern::Held,
            Outputs { alarm: true, .. } => Pattern::Alarm,
            _ if self.report.row.summary.wood.request == WoodRequest::Light => Pattern::Wood,
            Outputs {
                circulator: true, ..
            } => Pattern::Running,
            Outputs { .. } => Pattern::Well,
        };
        lamp::is_lit(pattern, self.now.as_millis())
    }
}
