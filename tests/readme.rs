//! README's console blocks run and print what they say. `TRYCMD=overwrite cargo test --test readme` renews them.

#[test]
fn console_blocks_print_what_they_say() {
    trycmd::TestCases::new()
        .case("README.md")
        .env("HOME", "/dev/null/home")
        .env("XDG_CONFIG_HOME", "/dev/null")
        .env("NO_COLOR", "1")
        .env("COLUMNS", "80");
}
