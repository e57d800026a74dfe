//! Holds the guide's list to the pages in its folder.

use std::path::Path;

use sagtrace::guide::PAGES;

#[test]
fn every_page_of_the_folder_is_in_the_list() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/guide");
    let files = std::fs::read_dir(folder).expect("the folder is there");
    let names = files.map(|file| file.expect("an entry").file_name());
    let mut pages: Vec<String> = names
        .filter_map(|name| {
            let name = name.into_string().expect("a plain name");
            name.strip_suffix(".md").map(str::to_owned)
        })
        .collect();
    let mut listed: Vec<String> = PAGES.iter().map(|page| page.topic.to_owned()).collect();
    pages.sort();
    listed.sort();
    assert_eq!(pages, listed);
}
