//! How a drill is laid out, seen from above: the target to the right, the camera below, the golfer
//! above, so that it is a right-hander's feet that are drawn. Drawn for this job.

use super::drawing::{Anchor, Drawing, Ink, Outline, Shape, Tone, Words};

/// Size of a picture in its own points; it is scaled as a whole.
pub const SIZE: [f64; 2] = [300.0, 150.0];

/// Where the ball line stands.
const BALL_X: f64 = 112.0;
/// Height of the marks on the ground.
const GROUND_Y: f64 = 104.0;
/// Points a millimetre along the ground.
const SCALE: f64 = 0.9;
const TYPE: f64 = 11.0;

/// The picture of a drill by its key; an empty field for a key that is not known. `reach`: how far
/// ahead the reach line is drawn, in words.
pub fn picture(key: &str, reach: &str) -> Drawing {
    let mut d = Drawing { width: SIZE[0], height: SIZE[1], shapes: Vec::new() };
    d.fill([0.0, 0.0], SIZE, 8.0, Tone::Hairline.faint(0.45));
    target(&mut d);
    match key {
        "two-lines-bare" => two_lines(&mut d, false, reach),
        "two-lines-ball" => two_lines(&mut d, true, reach),
        "stairs-ahead" => stairs(&mut d),
        "ten-through" => gate(&mut d),
        "sweep-the-tee" => tee(&mut d),
        "drawn-clubs" => clubs(&mut d),
        _ => {}
    }
    d
}

fn words(d: &mut Drawing, at: [f64; 2], anchor: Anchor, tone: Tone, text: &str) {
    let text = text.to_owned();
    let ink = tone.ink();
    d.shapes.push(Shape::Words(Words { at, anchor, size: TYPE, strong: false, ink, text }));
}

fn target(d: &mut Drawing) {
    let y = 14.0;
    d.line([262.0, y], [290.0, y], 1.2, Tone::Quiet.ink());
    for side in [-4.0, 4.0] {
        d.line([285.0, y + side], [290.0, y], 1.2, Tone::Quiet.ink());
    }
    words(d, [257.0, y], Anchor::Right, Tone::Quiet, "target");
}

/// A shoe's sole seen from above; its toes look down, at the ball.
fn shoe(d: &mut Drawing, x: f64, y: f64) {
    let outline = Some(Outline { ink: Tone::Quiet.ink(), width: 1.3 });
    let fill = Some(Tone::Surface.ink());
    d.shapes.push(Shape::Rect {
        min: [x - 7.0, y],
        max: [x + 7.0, y + 34.0],
        radius: 7.0,
        fill,
        outline,
    });
}

fn feet(d: &mut Drawing, trail: f64, lead: f64) {
    shoe(d, trail, 8.0);
    shoe(d, lead, 8.0);
}

fn line(d: &mut Drawing, x: f64, ink: Ink) {
    d.line([x, GROUND_Y - 26.0], [x, GROUND_Y + 26.0], 2.4, ink);
}

fn ball(d: &mut Drawing, x: f64) {
    d.shapes.push(Shape::Circle {
        centre: [x, GROUND_Y],
        radius: 6.5,
        fill: Some(Tone::White.ink()),
        outline: Some(Outline { ink: Tone::Text.ink(), width: 1.6 }),
    });
}

/// A mark in the ground from `start` to `end`, mm ahead of the ball line.
fn mark(d: &mut Drawing, start: f64, end: f64, y: f64, strength: f64) {
    let x = |mm: f64| BALL_X + SCALE * mm;
    d.fill([x(start), y - 4.0], [x(end), y + 4.0], 4.0, Tone::Text.faint(strength));
}

/// A distance between two places, with its words above.
fn distance(d: &mut Drawing, from: f64, to: f64, text: &str) {
    let y = GROUND_Y - 36.0;
    d.line([from, y], [to, y], 1.1, Tone::Quiet.ink());
    for x in [from, to] {
        d.line([x, y - 4.0], [x, y + 4.0], 1.1, Tone::Quiet.ink());
    }
    words(d, [(from + to) / 2.0, y - 11.0], Anchor::Centre, Tone::Quiet, text);
}

fn two_lines(d: &mut Drawing, with_ball: bool, distance_words: &str) {
    let reach = BALL_X + SCALE * 75.0;
    feet(d, 84.0, 150.0);
    mark(d, 78.0, 170.0, GROUND_Y + 4.0, 0.55);
    line(d, BALL_X, Tone::Text.ink());
    line(d, reach, Tone::Accent.ink());
    distance(d, BALL_X, reach, distance_words);
    if with_ball {
        ball(d, BALL_X);
    }
    words(d, [BALL_X - 8.0, GROUND_Y + 22.0], Anchor::Right, Tone::Text, "ball line");
    words(d, [reach + 8.0, GROUND_Y + 22.0], Anchor::Left, Tone::Accent, "reach line");
}

fn stairs(d: &mut Drawing) {
    feet(d, 84.0, 150.0);
    line(d, BALL_X, Tone::Text.ink());
    for (i, start) in [10.0, 40.0, 70.0, 100.0].into_iter().enumerate() {
        let y = GROUND_Y + 18.0 - 12.0 * i as f64;
        mark(d, start, start + 80.0, y, 0.3 + 0.15 * i as f64);
        let at = [BALL_X + SCALE * (start + 80.0) + 8.0, y];
        words(d, at, Anchor::Left, Tone::Quiet, &(i + 1).to_string());
    }
    words(d, [BALL_X - 8.0, GROUND_Y], Anchor::Right, Tone::Text, "ball line");
}

/// A tee stuck into the ground, seen from above.
fn peg(d: &mut Drawing, x: f64, y: f64) {
    d.shapes.push(Shape::Circle {
        centre: [x, y],
        radius: 3.4,
        fill: Some(Tone::Accent.ink()),
        outline: None,
    });
}

fn gate(d: &mut Drawing) {
    let far = BALL_X + SCALE * 100.0;
    feet(d, 84.0, 150.0);
    d.fill([BALL_X, GROUND_Y - 22.0], [far, GROUND_Y + 22.0], 0.0, Tone::Accent.faint(0.16));
    mark(d, 34.0, 120.0, GROUND_Y, 0.55);
    ball(d, BALL_X);
    for x in [BALL_X, far] {
        peg(d, x, GROUND_Y - 28.0);
    }
    distance(d, BALL_X, far, "aim window");
    words(d, [far + 8.0, GROUND_Y - 28.0], Anchor::Left, Tone::Accent, "tees");
}

fn tee(d: &mut Drawing) {
    // Seen from the front: ground, tee, and the club's path past its lowest point.
    let ground = 112.0;
    d.line([24.0, ground], [276.0, ground], 1.6, Tone::Text.ink());
    let x = 186.0;
    d.line([x, ground], [x, ground - 26.0], 3.0, Tone::Accent.ink());
    d.shapes.push(Shape::Circle {
        centre: [x, ground - 34.0],
        radius: 8.0,
        fill: Some(Tone::White.ink()),
        outline: Some(Outline { ink: Tone::Text.ink(), width: 1.6 }),
    });
    let low = x - 62.0;
    let path = |px: f64| [px, ground - 16.0 - (px - low).powi(2) / 330.0];
    let mut last = path(46.0);
    for i in 1..=40 {
        let next = path(46.0 + 5.4 * f64::from(i));
        d.line(last, next, 1.6, Tone::Quiet.ink());
        last = next;
    }
    d.line([low, ground - 16.0], [low, ground + 8.0], 1.2, Tone::Accent.ink());
    words(d, [low, ground + 18.0], Anchor::Centre, Tone::Accent, "low point");
    words(d, [x + 4.0, ground + 18.0], Anchor::Centre, Tone::Text, "ball");
}

fn clubs(d: &mut Drawing) {
    feet(d, 84.0, 150.0);
    ball(d, BALL_X);
    mark(d, 30.0, 118.0, GROUND_Y, 0.55);
    for (i, name) in ["PW", "5", "9", "7", "6"].into_iter().enumerate() {
        let x = 186.0 + 24.0 * i as f64;
        let y = 54.0 + 6.0 * ((i % 2) as f64);
        let outline = Some(Outline { ink: Tone::Quiet.ink(), width: 1.1 });
        let fill = Some(Tone::Surface.ink());
        let (min, max) = ([x - 12.0, y - 10.0], [x + 12.0, y + 10.0]);
        d.shapes.push(Shape::Rect { min, max, radius: 2.0, fill, outline });
        words(d, [x, y], Anchor::Centre, Tone::Text, name);
    }
    words(d, [234.0, 34.0], Anchor::Centre, Tone::Quiet, "draw one before each");
}
