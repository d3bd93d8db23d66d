//! What the text variant promises.

mod damage;
mod form;
mod limits;
mod lines;
mod page;
mod rows;
mod stream;
