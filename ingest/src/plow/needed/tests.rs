use super::*;
use crate::plow::read_plow;
use ChannelRole::{
    Depth, DrawbarAngle, FrontLoad, LowerLinks, Pitch, Pull, Tail as Spring, TailLoad, TopLink,
};
use std::path::Path;

/// Sets of channels.
type Sets = &'static [&'static [ChannelRole]];

fn example(file: &str) -> Plow {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
    read_plow(&folder.join(file)).unwrap()
}

#[test]
fn any_one_of_what_carries_is_enough_and_pull_and_depth_are_not() {
    let rows: [(&str, Sets, Sets, &str); 5] = [
        (
            "two-bottom.toml",
            &[&[Spring], &[TailLoad], &[FrontLoad], &[DrawbarAngle, Pitch]],
            &[&[], &[TopLink], &[DrawbarAngle], &[Pitch]],
            "tail_mm (tail-wheel spring) or tail_load_n (tail wheel on a load cell), front_load_n",
        ),
        (
            "three-bottom-rolling-landside.toml",
            &[&[TailLoad], &[FrontLoad]],
            &[&[Spring]],
            "tail_load_n (rolling landside on a load cell), front_load_n (front wheels)",
        ),
        (
            "one-bottom-walking.toml",
            &[&[TailLoad]],
            &[&[]],
            "tail_load_n (heel on a load cell) or drawbar_deg (chain",
        ),
        (
            "four-bottom-semi-mounted.toml",
            &[&[Spring], &[FrontLoad]],
            &[&[LowerLinks]],
            "lower links hold up",
        ),
        (
            "three-bottom-mounted.toml",
            &[&[TopLink], &[TailLoad]],
            &[&[LowerLinks], &[DrawbarAngle, Pitch]],
            "top_link_n",
        ),
    ];
    for (file, enough, not_enough, said) in rows {
        let plow = example(file);
        let missing = |with: &[ChannelRole]| {
            plow.missing_for_a_verdict(|role| [Pull, Depth].contains(&role) || with.contains(&role))
        };
        for with in enough {
            assert_eq!(missing(with), None, "{file} {with:?}");
        }
        for with in not_enough {
            let sentence = missing(with).unwrap();
            assert!(
                sentence.contains(said) && sentence.starts_with("no column of what"),
                "{file}: {sentence}"
            );
        }
        assert!(
            plow.missing_for_a_verdict(|role| role == TailLoad || role == Depth).unwrap().contains("pull_n")
        );
        assert!(
            plow.missing_for_a_verdict(|role| role == TailLoad || role == Pull).unwrap().contains("depth_mm")
        );
    }
    let mounted = example("three-bottom-mounted.toml");
    assert_eq!(mounted.missing_for_a_verdict(|role| [LowerLinks, TopLink, Depth].contains(&role)), None);
}

#[test]
fn what_the_pass_is_judged_by_comes_first_and_nothing_twice() {
    let of = |there: &[ChannelRole]| needed_at_once(|role| there.contains(&role));
    assert_eq!(of(&[Pull, Spring, Depth, FrontLoad]), [Spring, Depth, Pull]);
    assert_eq!(of(&[Pull, Spring, Depth, TailLoad]), [TailLoad, Depth, Pull]);
    assert_eq!(of(&[LowerLinks, TopLink, Depth]), [TopLink, Depth, LowerLinks]);
    assert_eq!(of(&[Pull, Depth, DrawbarAngle]), [Depth, Pull]);
}

#[test]
fn a_channel_that_says_nothing_of_this_plow_is_refused_with_why() {
    use ChannelRole::FrontHeight;
    let (trailed, mounted) = (example("two-bottom.toml"), example("three-bottom-mounted.toml"));
    let no_wheel = example("three-bottom-rolling-landside.toml");
    assert_eq!(trailed.cannot_use(Spring), None);
    assert_eq!(no_wheel.cannot_use(Spring), Some("the plow has no [tail_wheel] with a load table"));
    for role in [LowerLinks, TopLink] {
        assert_eq!(trailed.cannot_use(role), Some("the plow has no [top_link] with [lower_links]"));
        assert_eq!(mounted.cannot_use(role), None);
    }
    for (role, why) in [
        (FrontHeight, "nothing is worked out from it on a mounted plow"),
        (DrawbarAngle, "a mounted plow has no drawbar"),
    ] {
        assert_eq!((mounted.cannot_use(role), trailed.cannot_use(role)), (Some(why), None), "{role:?}");
    }
}

/// Either link alone is no pull, and the height of the front stands for the pitch beside the drawbar's angle.
#[test]
fn half_a_pull_is_none_and_the_sentence_says_what_kind_of_pull_is_missing() {
    let (trailed, mounted) = (example("two-bottom.toml"), example("three-bottom-mounted.toml"));
    let missing =
        |plow: &Plow, there: &[ChannelRole]| plow.missing_for_a_verdict(|role| there.contains(&role));
    for half in [[LowerLinks, TailLoad, Depth], [TopLink, TailLoad, Depth]] {
        let sentence = missing(&mounted, &half).unwrap();
        assert!(sentence.starts_with("no column pull_n, nor lower_links_n with top_link_n: "), "{sentence}");
    }
    let sentence = missing(&trailed, &[LowerLinks, TopLink, TailLoad, Depth]).unwrap();
    assert!(sentence.starts_with("no column pull_n: "), "links are no pull of a trailed plow: {sentence}");
    assert_eq!(missing(&trailed, &[Pull, Depth, DrawbarAngle, ChannelRole::FrontHeight]), None);
}
