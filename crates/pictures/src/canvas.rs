//! What pictures are drawn on: a few shapes, in the colours of the pages.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Units that every picture is wide: a phone.
pub const WIDTH: u32 = 390;

/// The smallest text.
pub(crate) const SMALL: f64 = 12.0;

/// A place on the canvas.
pub(crate) type Point = (f64, f64);

/// The colours: what they are in light, which print and grey keep apart, and in the dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tone {
    /// What it stands on.
    Card,
    /// Text, and what is so.
    Ink,
    /// What can be passed over.
    Soft,
    /// Rules.
    Line,
    /// What half of all futures hold; what is sure.
    Sure,
    /// What eight in ten hold.
    Likely,
    /// What nearly all hold; doubt.
    Doubt,
    /// What wants something done.
    Rust,
}

impl Tone {
    const ALL: [Self; 8] = [
        Self::Card,
        Self::Ink,
        Self::Soft,
        Self::Line,
        Self::Sure,
        Self::Likely,
        Self::Doubt,
        Self::Rust,
    ];

    const fn name(self) -> &'static str {
        match self {
            Self::Card => "card",
            Self::Ink => "ink",
            Self::Soft => "soft",
            Self::Line => "line",
            Self::Sure => "sure",
            Self::Likely => "likely",
            Self::Doubt => "doubt",
            Self::Rust => "rust",
        }
    }

    const fn light(self) -> RGBColor {
        match self {
            Self::Card => RGBColor(0xff, 0xfd, 0xf8),
            Self::Ink => RGBColor(0x16, 0x29, 0x2b),
            Self::Soft => RGBColor(0x4b, 0x5d, 0x5e),
            Self::Line => RGBColor(0xcf, 0xc8, 0xb8),
            Self::Sure => RGBColor(0x3f, 0x8f, 0x86),
            Self::Likely => RGBColor(0x8f, 0xbf, 0xb8),
            Self::Doubt => RGBColor(0xd3, 0xe4, 0xe0),
            Self::Rust => RGBColor(0xa6, 0x3a, 0x1d),
        }
    }

    const fn dark(self) -> &'static str {
        match self {
            Self::Card => "#162627",
            Self::Ink => "#ece7da",
            Self::Soft => "#aebdba",
            Self::Line => "#3a4d4d",
            Self::Sure => "#5fb8ac",
            Self::Likely => "#3a7a73",
            Self::Doubt => "#27494a",
            Self::Rust => "#ff9b7d",
        }
    }

    /// As it stands in a drawing.
    fn written(self) -> String {
        let RGBColor(red, green, blue) = self.light();
        format!("#{red:02X}{green:02X}{blue:02X}")
    }
}

/// Where a text stands about its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Start,
    Middle,
    End,
}

/// A drawing under way. One in memory takes every shape, so none is asked whether it did.
pub(crate) struct Canvas<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
}

#[allow(clippy::cast_possible_truncation)] // places on a canvas of a few hundred units
fn at((x, y): Point) -> (i32, i32) {
    (x.round() as i32, y.round() as i32)
}

impl Canvas<'_> {
    /// A box from its upper left to its lower right.
    pub fn bar(&self, from: Point, to: Point, tone: Tone) {
        let _ = self.area.draw(&Rectangle::new([at(from), at(to)], tone.light().filled()));
    }

    /// The edge of a box.
    pub fn frame(&self, from: Point, to: Point, tone: Tone) {
        let _ = self.area.draw(&Rectangle::new([at(from), at(to)], tone.light()));
    }

    /// A filled shape.
    pub fn shape(&self, points: impl IntoIterator<Item = Point>, tone: Tone) {
        let points: Vec<(i32, i32)> = points.into_iter().map(at).collect();
        let _ = self.area.draw(&Polygon::new(points, tone.light().filled()));
    }

    /// A line through points.
    pub fn line(&self, points: impl IntoIterator<Item = Point>, width: u32, tone: Tone) {
        let points: Vec<(i32, i32)> = points.into_iter().map(at).collect();
        let _ = self.area.draw(&PathElement::new(points, tone.light().stroke_width(width)));
    }

    /// A level line in dashes.
    pub fn dashes(&self, (from, y): Point, to: f64, tone: Tone) {
        let mut x = from;
        while x < to {
            self.line([(x, y), ((x + 6.0).min(to), y)], 2, tone);
            x += 10.0;
        }
    }

    /// A dot.
    pub fn dot(&self, place: Point, radius: i32, tone: Tone) {
        let _ = self.area.draw(&Circle::new(at(place), radius, tone.light().filled()));
    }

    /// A text at the middle of its height.
    pub fn text(&self, text: &str, place: Point, side: Side, tone: Tone) {
        self.lettered(text, place, side, (SMALL, tone));
    }

    /// The name of the picture, or of a part of it.
    pub fn heading(&self, text: &str, place: Point) {
        self.lettered(text, place, Side::Start, (15.0, Tone::Ink));
    }

    fn lettered(&self, text: &str, place: Point, side: Side, (size, tone): (f64, Tone)) {
        let across = match side {
            Side::Start => HPos::Left,
            Side::Middle => HPos::Center,
            Side::End => HPos::Right,
        };
        // The backend writes a font's size as the height of its capitals: 1.24 of it is asked for.
        let colour = tone.light();
        let style = TextStyle::from(("sans-serif", size * 1.24))
            .color(&colour)
            .pos(Pos::new(across, VPos::Center));
        let _ = self.area.draw(&Text::new(text.to_owned(), at(place), style));
    }
}

/// A text cut to about so many units of width at the smallest size, the cut shown.
pub(crate) fn cut(text: &str, width: f64) -> String {
    // Letters of a text are a little over half as wide as they are high, on average.
    let letters = (width / (SMALL * 0.55)).max(2.0) as usize;
    if text.chars().count() <= letters {
        return text.to_owned();
    }
    let short: String = text.chars().take(letters - 1).collect();
    format!("{}…", short.trim_end())
}

/// A picture of so many units high, with what it is called and what it says.
pub(crate) fn picture(
    height: f64,
    (title, description): (&str, &str),
    draw: impl FnOnce(&Canvas<'_>),
) -> String {
    let (_, high) = at((0.0, height));
    let mut drawn = String::new();
    {
        let size = (WIDTH, u32::try_from(high).unwrap_or(1));
        let area = SVGBackend::with_string(&mut drawn, size).into_drawing_area();
        let canvas = Canvas { area };
        canvas.bar((0.0, 0.0), (f64::from(WIDTH), height), Tone::Card);
        draw(&canvas);
        let _ = canvas.area.present();
    }
    finished(&drawn, high, title, description)
}

/// Names what was drawn, and lets its colours turn on a dark screen.
fn finished(drawn: &str, height: i32, title: &str, description: &str) -> String {
    let body = drawn.split_once('>').map_or("", |(_, body)| body);
    let fonts = "Avenir Next,Seravek,Segoe UI,Ubuntu,Cantarell,sans-serif";
    let mut body = body.replace("\"sans-serif\"", &format!("\"{fonts}\""));
    body = body.replace(" opacity=\"1\"", "");
    let mut dark = String::new();
    for tone in Tone::ALL {
        let (name, written, turned) = (tone.name(), tone.written(), tone.dark());
        for part in ["fill", "stroke"] {
            let own = format!("{part}=\"{written}\"");
            body = body.replace(&own, &format!("{own} class=\"{name}-{part}\""));
            dark.push_str(&format!(".{name}-{part}{{{part}:{turned}}}"));
        }
    }
    let (title, description) = (escaped(title), escaped(description));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{height}\" \
         viewBox=\"0 0 {WIDTH} {height}\" role=\"img\" aria-labelledby=\"title about\">\n\
         <title id=\"title\">{title}</title>\n<desc id=\"about\">{description}</desc>\n\
         <style>@media screen and (prefers-color-scheme:dark){{{dark}}}</style>{body}"
    )
}

/// A text between tags.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_has_a_name_and_colours_that_turn() {
        let drawn = picture(40.0, ("Soap & water", "It is <wet>."), |canvas| {
            canvas.text("5 < 6", (10.0, 20.0), Side::Start, Tone::Rust);
        });
        assert!(drawn.contains("<title id=\"title\">Soap &amp; water</title>"), "{drawn}");
        assert!(drawn.contains("It is &lt;wet&gt;.</desc>"), "{drawn}");
        assert!(drawn.contains("fill=\"#A63A1D\" class=\"rust-fill\""), "{drawn}");
        assert!(drawn.contains(".rust-fill{fill:#ff9b7d}"), "{drawn}");
        assert!(drawn.contains("font-size=\"12\"") && drawn.contains("5 &lt; 6"), "{drawn}");
        assert!(drawn.starts_with("<svg ") && drawn.trim_end().ends_with("</svg>"), "{drawn}");
    }

    #[test]
    fn no_two_colours_are_the_same_in_light() {
        let mut written = Tone::ALL.map(Tone::written).to_vec();
        written.sort_unstable();
        written.dedup();
        assert_eq!(written.len(), Tone::ALL.len());
    }

    #[test]
    fn a_cut_name_shows_that_it_was_cut() {
        assert_eq!(cut("Iron remover", 100.0), "Iron remover");
        assert_eq!(cut("Iron remover, 5 L", 66.0), "Iron remo…");
    }
}
