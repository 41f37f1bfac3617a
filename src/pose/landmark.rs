//! The 33 body points that every model's output is mapped to.

use serde::{Deserialize, Serialize};

/// Which side of the player's body a point belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The player's own left.
    Left,
    /// The player's own right.
    Right,
}

impl Side {
    /// The word used in columns and options.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }

    /// The other side of the body.
    pub fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }
}

/// Number of landmarks.
pub const COUNT: usize = 33;

macro_rules! landmarks {
    ($($variant:ident = $index:literal, $name:literal;)*) => {
        /// A body point; the number is its place in every array of landmarks.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[repr(usize)]
        #[allow(missing_docs, reason = "the names say which point they are")]
        pub enum Landmark { $($variant = $index,)* }

        impl Landmark {
            /// All landmarks in the order of the arrays.
            pub const ALL: [Landmark; COUNT] = [$(Landmark::$variant,)*];

            /// The name used in model cards and in the columns of `frames.csv`.
            pub const fn name(self) -> &'static str {
                match self { $(Landmark::$variant => $name,)* }
            }
        }
    };
}

landmarks! {
    Nose = 0, "nose";
    LeftEyeInner = 1, "left_eye_inner";
    LeftEye = 2, "left_eye";
    LeftEyeOuter = 3, "left_eye_outer";
    RightEyeInner = 4, "right_eye_inner";
    RightEye = 5, "right_eye";
    RightEyeOuter = 6, "right_eye_outer";
    LeftEar = 7, "left_ear";
    RightEar = 8, "right_ear";
    MouthLeft = 9, "mouth_left";
    MouthRight = 10, "mouth_right";
    LeftShoulder = 11, "left_shoulder";
    RightShoulder = 12, "right_shoulder";
    LeftElbow = 13, "left_elbow";
    RightElbow = 14, "right_elbow";
    LeftWrist = 15, "left_wrist";
    RightWrist = 16, "right_wrist";
    LeftPinky = 17, "left_pinky";
    RightPinky = 18, "right_pinky";
    LeftIndex = 19, "left_index";
    RightIndex = 20, "right_index";
    LeftThumb = 21, "left_thumb";
    RightThumb = 22, "right_thumb";
    LeftHip = 23, "left_hip";
    RightHip = 24, "right_hip";
    LeftKnee = 25, "left_knee";
    RightKnee = 26, "right_knee";
    LeftAnkle = 27, "left_ankle";
    RightAnkle = 28, "right_ankle";
    LeftHeel = 29, "left_heel";
    RightHeel = 30, "right_heel";
    LeftToe = 31, "left_foot_index";
    RightToe = 32, "right_foot_index";
}

/// A joint or point that exists once on each side of the body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "the names say which point they are")]
pub enum Joint {
    Shoulder,
    Elbow,
    Wrist,
    Index,
    Pinky,
    Hip,
    Knee,
    Ankle,
    Heel,
    Toe,
    Ear,
}

/// What joins the joints of an arm.
pub const ARM: [(Joint, Joint); 2] = [(Joint::Shoulder, Joint::Elbow), (Joint::Elbow, Joint::Wrist)];

/// What joins the joints of a leg above the foot.
pub const LEG: [(Joint, Joint); 2] = [(Joint::Hip, Joint::Knee), (Joint::Knee, Joint::Ankle)];

/// The sole.
pub const FOOT: (Joint, Joint) = (Joint::Heel, Joint::Toe);

/// The limbs of one side of the body, from joint to joint, as they are drawn: leg, foot, arm.
pub const LIMBS: [(Joint, Joint); 5] = [LEG[0], LEG[1], FOOT, ARM[0], ARM[1]];

impl Joint {
    /// The joint with this name in a model's card.
    pub fn from_name(name: &str) -> Option<Self> {
        Some(match name {
            "shoulder" => Self::Shoulder,
            "elbow" => Self::Elbow,
            "wrist" => Self::Wrist,
            "index" => Self::Index,
            "pinky" => Self::Pinky,
            "hip" => Self::Hip,
            "knee" => Self::Knee,
            "ankle" => Self::Ankle,
            "heel" => Self::Heel,
            "toe" => Self::Toe,
            "ear" => Self::Ear,
            _ => return None,
        })
    }

    /// The landmark of this joint on one side of the body.
    pub const fn on(self, side: Side) -> Landmark {
        use Landmark as L;
        match (self, side) {
            (Self::Shoulder, Side::Left) => L::LeftShoulder,
            (Self::Shoulder, Side::Right) => L::RightShoulder,
            (Self::Elbow, Side::Left) => L::LeftElbow,
            (Self::Elbow, Side::Right) => L::RightElbow,
            (Self::Wrist, Side::Left) => L::LeftWrist,
            (Self::Wrist, Side::Right) => L::RightWrist,
            (Self::Index, Side::Left) => L::LeftIndex,
            (Self::Index, Side::Right) => L::RightIndex,
            (Self::Pinky, Side::Left) => L::LeftPinky,
            (Self::Pinky, Side::Right) => L::RightPinky,
            (Self::Hip, Side::Left) => L::LeftHip,
            (Self::Hip, Side::Right) => L::RightHip,
            (Self::Knee, Side::Left) => L::LeftKnee,
            (Self::Knee, Side::Right) => L::RightKnee,
            (Self::Ankle, Side::Left) => L::LeftAnkle,
            (Self::Ankle, Side::Right) => L::RightAnkle,
            (Self::Heel, Side::Left) => L::LeftHeel,
            (Self::Heel, Side::Right) => L::RightHeel,
            (Self::Toe, Side::Left) => L::LeftToe,
            (Self::Toe, Side::Right) => L::RightToe,
            (Self::Ear, Side::Left) => L::LeftEar,
            (Self::Ear, Side::Right) => L::RightEar,
        }
    }
}

impl Landmark {
    /// The landmark with this name, if there is one.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|l| l.name() == name)
    }

    /// The same point on the other side of the body (the nose is its own mirror image).
    pub fn mirrored(self) -> Self {
        // The eyes' points come three of one side and three of the other; from the ears on left and right take turns.
        let own = self as usize;
        Self::ALL[match own {
            0 => 0,
            1..=3 => own + 3,
            4..=6 => own - 3,
            _ if own % 2 == 1 => own + 1,
            _ => own - 1,
        }]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mirrored_landmark_has_the_other_sides_name() {
        for landmark in Landmark::ALL {
            let name = landmark.name();
            let other = match name.contains("left") {
                true => name.replace("left", "right"),
                false => name.replace("right", "left"),
            };
            assert_eq!(landmark.mirrored().name(), other);
        }
    }
}
