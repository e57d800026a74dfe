//! Sheets, profiles, settings and folders that are refused, and outputs that fail.

use super::*;

#[test]
fn a_sheet_with_faults_is_refused_with_all_of_them() {
    let desk = Desk::new();
    desk.file(
        "bad.toml",
        "schema = 1\nname = 7\n\n[coil]\nshape = \"egg\"\nturns = -3\nbogus = 1\n",
    );
    for args in [
        ["predict", "bad.toml"].as_slice(),
        &["sheet", "check", "bad.toml"],
        &["record", "-b", "bad.toml"],
    ] {
        let ended = desk.run(args);
        assert_eq!(ended.code, USAGE, "{args:?}");
        insta::allow_duplicates! {
            insta::assert_snapshot!(ended.stderr, @r#"
            error: build sheet bad.toml has faults:
            line 1: primary: missing: expected a [primary] table
            line 1: circuit: missing: expected a [circuit] table
            line 1: battery: missing: expected a [battery] table
            line 1: usual: missing: expected a [usual] table
            line 2: name: found 7: expected a text in quotes
            line 4: coil.wire: missing: expected the bare wire, such as "0.2 mm" or "32 AWG"
            line 5: coil.shape: found "egg": expected one of "cylinder", "cone", "flat-spiral"
            line 7: coil.bogus: unknown key: expected one of shape, wire, film, over_enamel, sense, diameter_tolerance, length_tolerance, turns_tolerance, former, board_thickness, board_permittivity, foot_end, former_diameter, mean_diameter, foot_diameter, top_diameter, inner_diameter, outer_diameter, turns, winding_length, turn_pitch
            hint: see every key with: sagtrace sheet template
            "#);
        }
    }
}

#[test]
fn a_profile_with_faults_is_refused_with_all_of_them() {
    let desk = Desk::new();
    desk.file(
        "sagtrace/devices/mine.toml",
        "schema = 1\nname = \"mine\"\nmanner = \"sometimes\"\n[port]\nbaud = \"fast\"\n",
    );
    let ended = desk.record(&["-i", "mine@serial:/dev/null"]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(redact(&desk, &ended.stderr), @r#"
    error: profile DESK/sagtrace/devices/mine.toml has faults:
    line 1: about: missing: expected one line that describes it
    line 1: no [[value]]: expected at least one
    line 3: manner: found "sometimes": expected one of "asked", "unasked"
    line 5: port.baud: found "fast": expected a whole number from 50 to 12000000
    hint: devices/README.md has every key
    "#);
    let ended = desk.record(&["-i", "yours@serial:/dev/null"]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(ended.stderr, @r#"
    error: no profile "yours": known are columns, mine, plain-lines, quick-columns, quick-plain-lines, quick-scpi-counter, scpi-counter, scpi-scope, scpi-scope-wave
    hint: a profile of your own goes to ~/.config/sagtrace/devices/NAME.toml; see devices/README.md
    "#);
}

#[test]
fn settings_with_faults_are_refused_with_all_of_them() {
    let desk = Desk::new();
    desk.file(
        "sagtrace/config.toml",
        "sessions_dir = 7\ncolour = \"red\"\n",
    );
    let ended = desk.record(&["-i", "scpi-counter@serial:/dev/null"]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(redact(&desk, &ended.stderr), @r"
    error: settings file DESK/sagtrace/config.toml has faults:
    line 1: sessions_dir: found 7: expected a text in quotes
    line 2: colour: unknown key: expected one of sessions_dir, instruments
    ");
    let ended = desk.record(&[
        "-i",
        "scpi-counter@serial:/dev/null",
        "--config",
        "gone.toml",
    ]);
    assert_eq!(ended.code, USAGE);
    insta::assert_snapshot!(ended.stderr, @"error: cannot read gone.toml: No such file or directory (os error 2)");
}

#[test]
fn an_existing_folder_is_refused_or_moved_aside_with_all_that_is_in_it() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    desk.file("out/samples.csv", "precious");
    let address = at(&counter);
    let ended = desk.record(&["-i", &address, "--for", "200ms"]);
    assert_eq!(ended.code, CANNOT_WRITE);
    insta::assert_snapshot!(ended.stderr, @r"
    error: the folder out exists already
    hint: name another folder with --out, or move this one aside with --force
    ");
    assert_eq!(desk.read("out/samples.csv"), "precious");
    let mut running = desk.start(&["-i", &address, "--every", "50ms", "--force"]);
    running.wait_for_rows(1);
    assert_eq!(running.interrupt().code, DONE);
    let aside = fs::read_dir(desk.path())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.to_string_lossy().contains("out.before-"))
        .unwrap();
    assert_eq!(
        fs::read_to_string(aside.join("samples.csv")).unwrap(),
        "precious"
    );
}

#[test]
fn a_full_disk_ends_the_recording_and_keeps_whole_rows() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    // A limit on the size of a file says "no" to a write as a full disk does; the shell ignores its signal for us.
    let script = "trap '' XFSZ; ulimit -f 8; exec \"$@\"";
    let binary = env!("CARGO_BIN_EXE_sagtrace");
    let mut command = Command::new("sh");
    command.args([
        "-c", script, "sh", binary, "record", "--show", "rows", "--out", "out",
    ]);
    command.args(["-i", &at(&counter), "--every", "10ms"]);
    desk.settle(&mut command);
    let ended = Running::start(&mut command).end();
    assert_eq!(ended.code, CANNOT_WRITE, "{}", ended.stderr);
    let rows = desk.rows().len();
    let message = redact(&desk, &ended.stderr).replace(&format!("{rows} rows"), "ALL rows");
    insta::assert_snapshot!(message, @r"
    recording to out
    quick-scpi-counter is sagtrace,virtual counter,0,0.1.0
    error: cannot write out/samples.csv: File too large (os error 27)
    hint: the disk is full; ALL rows are safe in out; to wait for room: --wait-for-room
    ");
    // Every row that was shown is there; the header was shown as well.
    assert_eq!(ended.stdout, desk.read("out/samples.csv"));
    assert!(rows > 20, "{rows} rows in 4 KiB");
}

#[test]
fn a_folder_that_cannot_be_written_to_is_told() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    let folder = desk.path().join("locked");
    fs::create_dir(&folder).unwrap();
    fs::set_permissions(&folder, Permissions::from_mode(0o555)).unwrap();
    fs::set_permissions(counter.path(), Permissions::from_mode(0o666)).unwrap();
    let address = at(&counter);
    let args = ["record", "-i", &address, "--out", "locked/session"];
    let ended = Running::start(&mut as_ordinary_user(&desk, &args)).end();
    assert_eq!(ended.code, CANNOT_WRITE);
    insta::assert_snapshot!(ended.stderr, @r"
    error: cannot write locked/session: Permission denied (os error 13)
    hint: name a folder that can be written to with --out
    ");
}

#[test]
fn a_recording_goes_on_when_nobody_reads_what_it_shows() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let address = at(&counter);
    let args = [
        "record", "--show", "rows", "-o", "out", "-i", &address, "--every", "50ms", "--for", "1s",
    ];
    Running::start(desk.command(&args).stdout(writer))
        .end()
        .well();
    assert!(closed_well(&desk) && count(&desk, Status::Ok) >= 2);
}

#[test]
#[cfg(target_os = "linux")]
fn a_recording_goes_on_when_what_it_shows_cannot_be_written_and_the_end_says_so() {
    let (desk, counter) = (Desk::new(), counter(Vec::new()));
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let address = at(&counter);
    let args = [
        "record", "--show", "rows", "-o", "out", "-i", &address, "--every", "50ms", "--for", "1s",
    ];
    let ended = Running::start(desk.command(&args).stdout(full)).end();
    assert_eq!(ended.code, CANNOT_WRITE);
    insta::assert_snapshot!(ended.stderr, @"
    recording to out
    cannot write to stdout: No space left on device (os error 28); recording goes on
    quick-scpi-counter is sagtrace,virtual counter,0,0.1.0
    error: cannot write to stdout: No space left on device (os error 28)
    hint: all rows are safe in out
    ");
    assert!(closed_well(&desk) && count(&desk, Status::Ok) >= 2);
}

#[test]
fn a_result_that_nobody_reads_is_no_fault() {
    let desk = Desk::new();
    let sheet = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/glow-pillar.toml");
    for args in [
        ["predict", &*sheet.to_string_lossy()].as_slice(),
        &["--help"],
        &["completions", "bash"],
        &["man"],
    ] {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let ended = Running::start(desk.command(args).stdout(writer)).end();
        assert_eq!((ended.code, ended.stderr.as_str()), (DONE, ""), "{args:?}");
    }
}
